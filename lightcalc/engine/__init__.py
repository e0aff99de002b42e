"""
The light engine: a setup to illuminances, luminances and a picture.

Three parts add up. `solve.light(setup)` prepares all of them once; readings and picture are asked of the result.

**Straight light** (`direct`) is closed form and free of noise. Source to mark: candela over distance squared; faces with a
size, boards, frames and sheers by Lambert's polygon formula, clipped by what stands in the way. In the air: a sight line is
clipped against the shaft that a lamp sends through each window pane and against the shadow of each board and flag, which
gives the lit stretches exactly. Inside a stretch the light scattered once is integrated in the angle seen from the lamp
(the equi-angular variable of Kulla & Fajardo 2012), where a handful of Gauss-Legendre nodes are enough. Nothing is
marched, so nothing bands. Boards and frames light each other, cell by cell, until nothing is left (`direct.Exchange`); out of
doors the ground is part of that. What bounces onto them later is passed on in the same way.

**People and furniture** (`solid`, `shadow`) are ellipsoids and boxes. What one hides from a lamp is convex, so a sight line is
in its shadow in one stretch, found exactly; before a soft source an ellipsoid's outline is one of twelve sides; before sun and
sky each is an outline or, seen from far off, its area. Overlaps are taken once, however many there are (of more than eight things
two deep). The features of a face stand in a settled picture's surfaces alone. A box's large face that
is not dark sends light on as a board's side does, read as the room's; what people send on is summed over their outlines
(`bodies`), as one luminance and a slope for each ellipsoid.

**Everything after that** (`particles`, `indirect`, `turned`). Particles carry lumens from the sources, turn by the phase function,
reflect off surfaces and boards, and leave through windows. They tally illuminance on a coarse grid of each surface, drawn in
where it shows no more than chance (`tallies`), and in a coarse grid of the air the spherical-harmonic moments of the light that
passes, to the third order. A sight line multiplies each order by the phase function's own moment (g^l for Henyey-Greenstein), lets
the orders above fall on as those before them did, and has the light sent its way. Two kinds of light are too
directional for that, and each is gathered by the phase function itself: light on its way from a wall, from pieces of wall,
and the halo, light turned by the haze alone, from points that are kept one by one. Seeds are fixed and the work is dealt
to a fixed number of hands, so the same setup gives the same numbers on any number of cores.

**Open ground** (`ground`) takes the walls' place out of doors. Far and wide it is as bright as sun and sky make it; what
lamps, boards and shade change about that is kept as squares, small near them, which light marks, boards, figures and haze.
In haze, particles are followed in the air round lamps and boards; sky and open ground light it everywhere alike.

**The sight line** (`picture`) puts it together: light of the surface it ends on, dimmed by exp(-sigma d), plus both kinds
of light from the air.

Compiled code. Kernels are plain functions under numba. Each takes one record, the *rig* (`rows.Rig`, made by
`layout.lay_out`): every lamp, opening and facet as rows of numbers, tables beside them; compiled code reads a row by
`lamp_of(rig, k)` and its like. So signatures stay short and a new field of a row touches nobody. A `kernel` is called from
Python, an `inner` function from compiled code alone, and each is compiled once. A kernel says what it takes, so that `ready`
can compile all that is missing before the first light, on every core, each core another process. A kernel whose jobs are
dealt to the cores asks for the next by `next_job`; a `plain` function is one loop of which the processor does several steps
at once. Compiled code is kept in the user's cache folder under the hash of all it is built from, constants and inner
functions of other files too (`kernels.Source`): a change compiles only what it reaches, and a second clone compiles nothing.
`first_time.TOLD` is told how far it is. Meanwhile straight light is there already: Python runs the same functions from their
source (`interpreted`), some hundred times slower, which a few marks do not notice. A *draft* follows the hand, a *final* is
read; they differ only in counts (`solve.QUALITY`).
"""
