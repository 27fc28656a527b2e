"""Labels of designs side by side."""

import pytest

from render.common.scheme_labels import name_and_differences, scheme_label


@pytest.mark.parametrize(
    ("name", "differences", "label"),
    [
        ("wide gap", "gap 30 mm", "wide gap (gap 30 mm)"),
        ("", "gap 30 mm", "gap 30 mm"),
        ("Gap 30 mm", "gap 30 mm", "gap 30 mm"),
        ("wide gap", "", "wide gap"),
        ("", "", ""),
    ],
)
def test_a_label_names_what_differs_and_is_split_again(
    name: str, differences: str, label: str
) -> None:
    assert scheme_label(name, differences) == label
    assert " (".join(filter(None, name_and_differences(label))).rstrip(")") == label.rstrip(")")
