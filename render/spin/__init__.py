"""The spin page: one HTML file in which a customer turns the rod."""
