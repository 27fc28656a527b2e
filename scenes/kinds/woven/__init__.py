"""Woven panels: cloth woven from a chart."""
