"""The colours of the necks: told apart by who sees colours otherwise, and by nobody needed alone."""

import itertools
import re

import numpy as np
import pytest

from midifret.report_page.style import STYLE

colour = pytest.importorskip("colour", reason="colour-science is missing: pip install '.[test]'")

KINDS = ("Protanomaly", "Deuteranomaly", "Tritanomaly")


def levels() -> list[tuple[int, int, int]]:
    found = re.findall(r"\.level(\d)\{fill:#([0-9a-f]{3,6})", STYLE)
    assert [number for number, _ in found] == ["0", "1", "2", "3"]
    return [
        tuple(int(part * (2 if len(part) == 1 else 1), 16) for part in parts)  # type: ignore[misc]
        for _, text in found
        for parts in [[*text] if len(text) == 3 else [text[0:2], text[2:4], text[4:6]]]
    ]


def lab(rgb: np.ndarray) -> np.ndarray:
    return colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.clip(rgb, 0, 1)))


@pytest.mark.parametrize("kind", [None, *KINDS])
def test_steps_are_told_apart(kind: str | None) -> None:
    """Vision by Machado, Oliveira & Fernandes 2009 at full severity, difference by CIEDE2000, both as the
    library colour-science has them; of tritanopia it is an approximation, as its authors say. 2.3 is
    just noticed (Mahy et al. 1994, from memory); 10 is asked [ours].
    """
    linear = colour.cctf_decoding(np.array(levels()) / 255, "sRGB")
    if kind is not None:
        linear = linear @ colour.matrix_cvd_Machado2009(kind, 1.0).T
    seen = lab(colour.cctf_encoding(np.clip(linear, 0, 1), "sRGB"))
    for one, other in itertools.pairwise(seen):
        assert colour.delta_E(one, other, method="CIE 2000") > 10
    lightness = [float(each[0]) for each in seen]
    assert lightness == sorted(lightness, reverse=True)  # told apart by lightness, also in grey
