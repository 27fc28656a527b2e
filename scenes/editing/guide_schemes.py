"""Edits of the schemes for guides that concern more than the scheme itself."""

import re

from scenes.design.document import Design

__all__ = ["scheme_renamed"]

_NAME = re.compile(r"blank\.guide_schemes\.(\d+)\.name")


def scheme_renamed(design: Design, path: str, name: object) -> dict[str, object]:
    """List the changes that rename a scheme with every guide that refers to it.

    Parameters
    ----------
    design : Design
    path : str
        Of the field that is changed.
    name : object
        Its new value.

    Returns
    -------
    dict
        Value by path; empty if the path is not the name of a scheme that a guide refers to.
    """
    found, schemes = _NAME.fullmatch(path), design.blank.guide_schemes
    if found is None or int(found[1]) >= len(schemes):
        return {}
    old = schemes[int(found[1])].name
    uses = [f"blank.fitted.{at}.scheme" for at, one in design.blank.guides if one.scheme == old]
    return dict.fromkeys([path, *uses], name) if uses else {}
