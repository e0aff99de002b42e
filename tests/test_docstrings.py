"""Every public function says what it takes: the parameters documented are the parameters there are."""

import inspect
import pkgutil
import re
import sys
from functools import cached_property

import numpy as np
import pytest

import lightcalc


def public_functions():
    """Every public function, and public method of a public class, written in the package: {name: function}."""
    found = {}
    for module_info in pkgutil.walk_packages(lightcalc.__path__, "lightcalc."):
        if module_info.name.endswith("__main__"):
            continue  # running it is the point of it
        module = __import__(module_info.name, fromlist=["_"])
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
                continue
            if hasattr(thing, "py_func"):  # compiled: carries the function that was written
                KERNELS.add(f"{module.__name__}.{name}")
                thing = thing.py_func
            if inspect.isfunction(thing):
                found[f"{module.__name__}.{name}"] = thing
            elif inspect.isclass(thing):
                for method_name, method in vars(thing).items():
                    method = getattr(method, "__func__", method)
                    if inspect.isfunction(method) and not method_name.startswith("_"):
                        found[f"{module.__name__}.{name}.{method_name}"] = method
    return found


def public_classes():
    """Every public class written in the package, by name, without the inside of the engine."""
    modules = [sys.modules[name] for name in sorted({f.__module__ for f in FUNCTIONS.values()})]
    found = [(f"{m.__name__}.{name}", thing) for m in modules for name, thing in vars(m).items() if not name.startswith("_")]
    return {
        name: thing
        for name, thing in found
        if inspect.isclass(thing) and name.startswith(thing.__module__) and not name.startswith(INSIDE_ENGINE)
    }


INSIDE_ENGINE = tuple(
    f"lightcalc.engine.{name}."
    for name in ("bodies", "direct", "geometry", "ground", "indirect", "kernels", "layout", "particles", "rows", "shadow", "solid")
)
KERNELS = set()  # the light engine's inner loops: rows of bare numbers, called by the engine alone
FUNCTIONS = public_functions()


def documented(docstring):
    """Names in the Parameters section of a numpydoc docstring, stars left off."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-{3,}\n|\Z)", docstring, re.S | re.M)
    heads = re.findall(r"^(\S[^:\n]*?)(?: *:.*)?$", section.group(1), re.M) if section else []
    return [name.strip().lstrip("*") for head in heads for name in head.split(",")]


def accepted(function):
    """Names a caller may pass."""
    names = list(inspect.signature(function).parameters)
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def test_the_reader_of_docstrings_reads():
    # PINNED: the helper above on a docstring written for it; a reader that finds nothing would pass everything.
    text = inspect.cleandoc("""
        One line.

        Parameters
        ----------
        a, b : float or array
            Sides: both of them. [m]
        shape : {"disc", "square"}, default "disc"
            Which.
        **rest
            More.

        Returns
        -------
        c : float
        """)
    assert documented(text) == ["a", "b", "shape", "rest"] and documented("One line.") == []


def test_the_package_was_walked():
    assert {"lightcalc.units.stops", "lightcalc.laws.haze.transmittance", "lightcalc.laws.falloff.illuminance"} <= set(FUNCTIONS)


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_parameters_documented_are_parameters_there(name):
    docstring, takes = inspect.getdoc(FUNCTIONS[name]), accepted(FUNCTIONS[name])
    assert docstring, f"{name} has no docstring"
    says = documented(docstring)
    if name in KERNELS and not says:
        return  # one line that says what it gives back; whatever it does document has to be there
    if len(takes) > 1 or says:  # a conversion of one number may say it all in its one line
        assert sorted(says) == sorted(takes), f"{name} documents {says} and takes {takes}"


@pytest.mark.parametrize(
    "module_name",
    [
        "laws.exposure",
        "laws.falloff",
        "laws.bounce",
        "laws.haze",
        "sky.daylight",
        "laws.power",
        "laws.ventilation",
        "laws.haze_measured",
    ],
)
def test_closed_forms_take_no_bare_numbers(module_name):
    # Two bare floats can be swapped without a sound; every number is named by its caller, and every function has its
    # equation or reason, its source and an example that runs (the doctests run them).
    assert any(name.startswith(f"lightcalc.{module_name}.") for name in FUNCTIONS)
    for name, function in FUNCTIONS.items():
        if name.startswith(f"lightcalc.{module_name}."):
            kinds = {p.kind for p in inspect.signature(function).parameters.values()}
            assert kinds == {inspect.Parameter.KEYWORD_ONLY}, name
            for section in ("Parameters", "Returns", "Raises", "Notes", "References", "Examples"):
                assert re.search(rf"^{section}\n-+$", inspect.getdoc(function), re.M), f"{name} has no {section}"


def answered(thing):
    """What is called when a property is asked, and any other thing itself."""
    return getattr(thing, "fget", None) or getattr(thing, "func", thing)


def bare(function):
    """Of a function, what has no annotation: parameters by name, and "return"."""
    signature = inspect.signature(function)
    names = [name for name in accepted(function) if signature.parameters[name].annotation is inspect.Parameter.empty]
    return names + ["return"] * (signature.return_annotation is inspect.Signature.empty)


def test_what_is_bare_is_seen():
    # PINNED: the helper above on functions written for it; one that finds nothing would pass everything.
    class Both:
        def one(self, a: int, b, *, c=1): ...

        @property
        def two(self): ...

    assert bare(Both.one) == ["b", "c", "return"] and bare(answered(Both.two)) == ["return"]
    assert bare(public_functions) == ["return"]


def test_every_public_function_says_what_it_takes_and_gives():
    # The types themselves are mypy's to hold (tests/test_house.py). Inside the engine, kernels say what they take by their decorator,
    # and what hands them their arrays says it in its docstring.
    open_rooms = {
        name: function for name, function in FUNCTIONS.items() if not name.startswith(INSIDE_ENGINE) and name not in KERNELS
    }
    for name, kind in public_classes().items():
        asked = {key: answered(thing) for key, thing in vars(kind).items() if isinstance(thing, (property, cached_property))}
        open_rooms |= {f"{name}.{key}": one for key, one in asked.items() if not key.startswith("_")}
    assert len(open_rooms) > 500 and "lightcalc.engine.solve.Lit.illuminance_lx" in open_rooms
    assert {name: bare(function) for name, function in open_rooms.items() if bare(function)} == {}


def test_a_scalar_in_gives_a_scalar_out():
    # Every closed form called with its docstring's own example is a scalar; this samples the ones with most branches.
    from lightcalc.laws import exposure, falloff, haze

    for value in (
        exposure.t_stop_from_engraved(label=2.8),
        falloff.disc_factor(radius_m=0.4, distance_m=1.1),
        haze.side_beam_luminance(illuminance_lx=1, width_m=0.1, scattering_per_m=0.1, phase_per_sr=0.1),
    ):
        assert isinstance(value, (float, np.floating))
