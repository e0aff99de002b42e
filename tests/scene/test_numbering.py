"""Signs, angles and distances: each part has its own, as its definition says."""

import pytest

from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.scene import numbering

import drawn_parts as parts


def test_every_part_has_its_own_sign():
    signs = numbering.call_signs(parts.crowd())
    assert [signs[light.name] for light in parts.crowd().lights] == [str(i) for i in range(1, 13)]
    assert len(set(signs.values())) == len(signs) == 12 + 5 + 1 + 4
    assert numbering._letters(25) == "Z" and numbering._letters(26) == "AA" and numbering._letters(52) == "BA"


def test_beam_angle_is_where_half_is_left():
    # DERIVED: cos 60 deg = 1/2, so a Lambert face has 120 deg; a lamp that is the same all round has no half.
    assert numbering.beam_angle_deg(Lambert(peak_cd=10)) == pytest.approx(120, abs=0.11)  # grid of 0.05 deg, both sides
    assert numbering.beam_angle_deg(Beam(peak_cd=1, beam_deg=23, field_deg=40)) == 23
    bulb = Photometry(vertical_deg=(0, 180), horizontal_deg=(0,), candela=((60, 60),))
    assert numbering.beam_angle_deg(bulb) == 360


def test_dimensions_run_from_key_camera_and_board_to_their_marks():
    rows = {name: (mark, start, end) for name, mark, start, end in numbering.dimensions_of(parts.loft())}
    assert set(rows) == {"camera", "hard through window", "folded sail"}
    assert all(mark == "raker face" for mark, _, _ in rows.values())
    assert rows["camera"][1:] == ((5.6, 0.7, 1.45), (2.4, 2.4, 1.55))
    assert numbering.dimensions_of(parts.bare()) == []
