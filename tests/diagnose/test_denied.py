"""What the observer knows of the mount is weighed: "no, nothing moved", or that something did."""

import numpy as np

from plumbstar.diagnose.explain.causes.base_moved import BaseMovedFault
from plumbstar.diagnose.explain.causes.slip import SlipFault

from .ridge import why


def that_it_moved(e) -> float:
    """Of every cause, and every pair of them, in which something moved."""
    return sum(c.probability for c in e.causes if {"slip", "base_moved"} & set(c.kind.split("+")))


def test_a_denied_slip_is_believed_less_and_only_there():
    fault = SlipFault(2, "altitude", 2.5)
    plain = why(fault, n=4)
    assert plain.causes[0].kind == "slip"
    assert that_it_moved(why(fault, n=4, still=(3,))) < 0.3 * that_it_moved(plain)
    elsewhere = that_it_moved(why(fault, n=4, still=(1,)))
    np.testing.assert_allclose(elsewhere, that_it_moved(plain), atol=0.05)


def test_a_large_one_is_told_all_the_same():
    fault = BaseMovedFault(2, 3.0, 1.0, -1.0)
    assert why(fault, still=(3,)).causes[0].kind in ("base_moved", "slip", "slip+slip")


def test_a_move_that_the_observer_tells_of_is_believed_more_as_far_as_it_shows():
    fault = SlipFault(2, "altitude", 1.5)  # too small to be sure of it from the sightings alone
    plain = that_it_moved(why(fault, n=4))
    assert plain < 0.5
    assert that_it_moved(why(fault, n=4, moved=(3,))) > 0.9
    assert that_it_moved(why(SlipFault(2, "altitude", 0.0), n=4, moved=(3,))) < 0.5
