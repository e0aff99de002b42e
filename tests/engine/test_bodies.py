"""What people send on, held against sums over the skin."""

import numpy as np
import pytest

from lightcalc.engine import bodies, solve
from lightcalc.scene.parts import Exterior, Mark, Piece, Room, Sky
from lightcalc.scene.solids import solids

from light_parts import BLACK, lamp, setup

ROOM = Room(name="hall", width_m=5.0, depth_m=5.0, height_m=3.0, **BLACK)
SACK = Piece(
    name="sack", what="sack", at=(2.5, 2.5, 0.6), aim=(3.5, 3.0, 0.6), width_m=0.5, depth_m=0.4, height_m=0.8, reflectance=0.7
)


def test_ways_and_weights_sum_polynomials_over_a_sphere():
    # DERIVED: the mean of x^2 is 1/3, of x^4 1/5, of x^2 y^2 1/15, of odd powers 0.
    x, y, z = bodies.WAYS.T
    for values, mean in ((1.0 + 0 * x, 1.0), (x, 0.0), (z**2, 1 / 3), (x**4, 1 / 5), (x**2 * y**2, 1 / 15), (x**3 * y, 0.0)):
        assert bodies.WEIGHTS @ values == pytest.approx(mean, abs=1e-12)


@pytest.mark.parametrize("at", [(3.6, 2.2, 1.1), (2.4, 1.6, 1.6), (3.2, 3.4, 0.7), (1.4, 3.4, 0.5)])
@pytest.mark.parametrize("dome", [False, True])
def test_a_white_sack_lights_a_meter_as_a_sum_over_its_surface_does(at, dome):
    # INDEPENDENT: 40,000 places on an ellipsoid lit by one bulb, each sending its own E rho / pi; convex, so nothing hides another.
    # Half of it is dark: what is seen of the lit half is held to a tenth, of the dark one to a hundredth of the whole.
    bulb = lamp("bulb", (3.4, 1.2, 2.4), 1000.0)
    scene = setup(place=ROOM, lights=(bulb,), pieces=(SACK,))
    (sack,) = solids(scene)
    rng = np.random.default_rng(0)
    u = rng.normal(size=(40_000, 3))
    u /= np.linalg.norm(u, axis=1)[:, None]
    places, normals = sack.middle + (u * sack.half) @ sack.axes, (u / sack.half) @ sack.axes
    area = 4 * np.pi * np.prod(sack.half) * np.linalg.norm(normals, axis=1) / len(u)  # of a piece of the unit ball, stretched
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    to_bulb = bulb.at - places
    d2 = (to_bulb**2).sum(axis=1)
    luminance = 0.7 / np.pi * 1000.0 * np.maximum((to_bulb * normals).sum(axis=1), 0.0) / d2**1.5
    facing = np.subtract(sack.middle, at) / np.linalg.norm(np.subtract(sack.middle, at))
    away = places - at
    r = np.linalg.norm(away, axis=1)
    cosine = away @ facing / r
    takes = 0.5 * (1 + cosine) if dome else np.maximum(cosine, 0.0)
    wanted = (luminance * np.maximum(-(away * normals).sum(axis=1) / r, 0.0) * takes * area / r**2).sum()
    lit = solve.light(scene)
    got = bodies.bodies_to_points(lit.rig, np.array([at], dtype=float), facing[None], np.array([dome]))[0]
    assert got == pytest.approx(wanted, rel=0.11, abs=0.08)


def test_someone_in_the_open_sends_on_what_an_even_sky_gives():
    # DERIVED: in a sky even all round and over black ground a ball's top has pi L, its side half of that, its underside nothing:
    # (1 + n_z) / 2 of pi L, which is one luminance and a slope; its mean is half.
    sky = Sky(zenith_cd_m2=1000.0, horizon_cd_m2=1000.0)
    ball = Piece(
        name="ball", what="sack", at=(2.5, 2.5, 1.0), aim=(3.5, 2.5, 1.0), width_m=0.4, depth_m=0.4, height_m=0.4, reflectance=0.5
    )
    lit = solve.light(setup(place=Exterior(name="yard", width_m=9.0, depth_m=9.0, ground=0.0), sky=sky, pieces=(ball,)))
    even, slope, bend = np.split(bodies.glow(lit.rig)[0], [1, 4])
    assert even == pytest.approx(0.5 * 1000.0 / 2, rel=1e-3) and np.abs(bend).max() < 1.0
    assert np.linalg.norm(slope) == pytest.approx(0.5 * 1000.0 / 2, rel=1e-3)


def test_nobody_sends_nothing():
    lit = solve.light(
        setup(place=ROOM, lights=(lamp("bulb", (3.4, 1.2, 2.4), 1000.0),), marks=(Mark(name="m", at=(2, 2, 1), aim=(3, 2, 1)),))
    )
    assert not bodies.bodies_to_points(lit.rig, np.array([[2.0, 2.0, 1.0]]), np.array([[1.0, 0.0, 0.0]]), np.array([False])).any()


def test_two_cheeks_at_one_face_are_patches_of_it():
    # DERIVED: a key straight aside at 3 m, a fill at 45 degrees to both cheeks: (key + fill) : fill as for two cards in one place,
    # though the head stands there; the dome at the same place has the head behind it.
    face = (2.5, 2.5, 1.5)
    lit = Mark(name="lit", at=face, aim=(1.5, 1.5, 1.5), figure=True, reflectance=0.4)
    far = Mark(name="far", at=face, aim=(3.5, 1.5, 1.5))
    key, fill = lamp("key", (0.5, 2.5, 1.5), 800.0), lamp("fill", (2.5, 0.5, 1.5), 800.0)
    light = solve.light(setup(place=ROOM, lights=(key, fill), marks=(lit, far)))
    lux = light.illuminance_lx([face, face], [np.subtract(lit.aim, face), np.subtract(far.aim, face)])
    assert lux[:, :2] == pytest.approx(200.0 * np.sqrt(0.5) * np.array([[1.0, 1.0], [0.0, 1.0]]), rel=1e-9, abs=1e-9)
    assert np.abs(lux[:, 2]).max() < 1.0  # the trunk, a little
