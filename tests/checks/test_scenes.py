"""Scenes through a whole audit: recalls, zones and levels, and readings that don't say which recall they are."""

import pytest

import audit

HEADINGS = "Serial,Scene,Zone,Recall,CCT setting (K),Level (%),CCT (K),u',v',Luminous flux (lm)"


def audited(folder, *rows, headings=HEADINGS):
    (folder / "LR-9 scenes.csv").write_text("\n".join([headings, *rows]) + "\n", encoding="utf-8")
    outcome = audit.run(folder)
    return outcome.report.readings, {row["rule"]: row for row in outcome.observations if row["made_by"] == "scenes"}


def values(readings, quantity):
    rows = (row for row in readings if row["quantity"] == quantity)
    return {(row["operating_point"]["scene"], row["operating_point"].get("zone", "")): row["value"] for row in rows}


def test_recalls_of_each_scene_and_zone(tmp_path):
    readings, told = audited(
        tmp_path,
        "1,Evening,Hall,1,2700,50,2710,0.2600,0.5250,500",
        "1,Evening,Hall,2,2700,50,2710,0.2603,0.5254,510",
        "1,Evening,Stage,1,3000,20,3100,0.2500,0.5200,200",
        "1,Evening,Stage,2,3000,20,3080,0.2530,0.5240,230",
        "1,,Hall,,2700,100,2705,0.2601,0.5251,1040",
    )
    found = values(readings, "scene_recall_distance")
    assert found[("Evening", "Hall")] == pytest.approx(0.0005)  # 3-4-5 triangles
    assert found[("Evening", "Stage")] == pytest.approx(0.0050)
    assert values(readings, "scene_recall_flux")[("Evening", "Stage")] == pytest.approx(100 * 30 / 215)
    message = told["scene_as_measured"]["message"]
    assert "zone Stage (unit 1): 3100 K for 3000 K set" in message
    assert "zone Hall (unit 1): 48.1 % for 50 % set" in message  # 500 of 1,040 lm
    assert "scene_zone_missing" not in told


def test_what_is_read_twice_in_a_recall_counts_by_its_mean(tmp_path):
    readings, _ = audited(
        tmp_path,
        "1,Evening,Hall,1,2700,50,2710,0.2600,0.5250,500",
        "1,Evening,Hall,1,2700,50,2710,0.2604,0.5250,504",
        "1,Evening,Hall,2,2700,50,2710,0.2602,0.5253,502",
    )
    assert values(readings, "scene_recall_distance")[("Evening", "Hall")] == pytest.approx(0.0003)
    assert values(readings, "scene_recall_flux")[("Evening", "Hall")] == pytest.approx(0)


def test_readings_without_a_recall_are_asked_about(tmp_path):
    row = "1,Evening,Hall,,2700,50,2710,0.2600,0.5250,500"
    readings, told = audited(tmp_path, row, row.replace("0.2600", "0.2650"))
    assert not values(readings, "scene_recall_distance")
    assert told["recall_not_stated"]["tier"] == "minor"
    assert "row 2" in told["recall_not_stated"]["place"]


def test_a_zone_that_one_scene_lacks_is_asked_for(tmp_path):
    _, told = audited(
        tmp_path,
        "1,Evening,Hall,1,2700,50,2710,0.26,0.525,500",
        "1,Evening,Stage,1,2700,50,2710,0.26,0.525,500",
        "1,Morning,Hall,1,4000,100,4010,0.22,0.505,900",
    )
    assert "scene Morning was not measured in zone Stage" in told["scene_zone_missing"]["message"]


def test_recalls_of_two_units_are_not_compared(tmp_path):
    readings, _ = audited(
        tmp_path,
        "1,Evening,Hall,1,2700,50,2710,0.2600,0.5250,500",
        "2,Evening,Hall,2,2700,50,2710,0.2700,0.5250,600",
    )
    assert not values(readings, "scene_recall_distance")


def test_level_0_has_no_spread_and_no_share(tmp_path):
    readings, told = audited(tmp_path, "1,Night,Hall,1,,0,,,,0", "1,Night,Hall,2,,0,,,,0", "1,,Hall,,,100,,,,0")
    assert not values(readings, "scene_recall_flux")
    assert "scene_as_measured" not in told
