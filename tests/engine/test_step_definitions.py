"""The grammar of what a claim on steps counts: the trade's free text, what it leaves open, what it refuses."""

import math

import pytest

from audit.step_definitions import (
    ADMISSIBLE,
    ANSI,
    ANSI_2008,
    ANSI_2015,
    CIRCLE,
    ELLIPSE,
    IEC,
    MEAN,
    PAIR,
    STATED,
    StepDefinition,
    meant,
    parse,
)


@pytest.mark.parametrize(
    ("text", "shape", "centre", "nominal"),
    [
        ("IEC ellipse", ELLIPSE, "", None),
        ("MacAdam ellipse", ELLIPSE, "", None),
        ("u'v' circle", CIRCLE, "", None),
        ("u′v′ circle", CIRCLE, "", None),
        ("about the IEC 60081 centre", "", IEC, None),
        ("IEC ellipse about the IEC 60081 centre", ELLIPSE, IEC, None),
        ("IEC 60081 ellipse about IEC 60081 F 3000", ELLIPSE, IEC, 3000),
        ("n-step IEC ellipse about the nominal centre", ELLIPSE, "", None),
        ("u'v' circle about the ANSI C78.377 centre", CIRCLE, ANSI, None),
        ("u'v' circle about the ANSI C78.377 3000 K centre", CIRCLE, ANSI, 3000),
        ("u'v' circle about the ANSI C78.377-2008 centre", CIRCLE, ANSI_2008, None),
        ("IEC ellipse about the ANSI C78.377-2015 3000 K centre", ELLIPSE, ANSI_2015, 3000),
        ("circle around C78.377-2017 2200K center", CIRCLE, ANSI_2015, 2200),
        ("u'v' circle about the sample mean", CIRCLE, MEAN, None),
        ("u'v' circle about the sample's own mean", CIRCLE, MEAN, None),
        ("worst pair", "", PAIR, None),
        ("u'v' circle, worst pair", CIRCLE, PAIR, None),
    ],
)
def test_texts_of_the_trade(text, shape, centre, nominal):
    found = parse(text)
    assert (found.shape, found.centre) == (shape, centre)
    assert math.isnan(found.nominal_K) if nominal is None else found.nominal_K == nominal


@pytest.mark.parametrize("text", ["about x = 0.4339, y = 0.4033", "about x=0,4339; y=0,4033", "X = .4339 Y = .4033"])
def test_a_stated_centre(text):
    found = parse(text)
    assert (found.centre, found.x, found.y) == (STATED, 0.4339, 0.4033)


@pytest.mark.parametrize(
    "text",
    [
        "binning",
        "3 SDCM by the house rule",
        "IEC ellipse and u'v' circle",
        "about the IEC 60081 centre and the sample mean",
        "about the ANSI C78.377-2024 centre",
        "about x = 0.4339",
        "CIE 1960 ellipse",
        "3000 K and 4000 K",
    ],
)
def test_what_is_not_understood_means_nothing(text):
    assert parse(text) is None


@pytest.mark.parametrize(
    "definition", [*ADMISSIBLE, StepDefinition(ELLIPSE, PAIR), StepDefinition(CIRCLE, IEC, 4000.0)]
)
def test_every_definition_reads_back_as_itself(definition):
    assert str(parse(definition.text)) == str(definition)


def test_what_is_left_open_may_be_all_that_fits():
    assert meant(parse("")) == list(ADMISSIBLE)
    assert [each.centre for each in meant(parse("IEC ellipse"))] == [IEC, ANSI_2008, ANSI_2015]
    assert [each.centre for each in meant(parse("u'v' circle about the ANSI C78.377 centre"))] == [ANSI_2008, ANSI_2015]
    assert [each.shape for each in meant(parse("worst pair"))] == [ELLIPSE, CIRCLE]
    assert [each.nominal_K for each in meant(parse("IEC ellipse 3000 K"))] == [3000.0] * 3
    assert len(meant(parse("u'v' circle about the IEC 60081 centre"))) == 1
