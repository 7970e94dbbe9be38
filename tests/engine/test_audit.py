"""The audit of a folder from end to end: outcomes, exit status, and input that is bad or hostile."""

import json
import os
import subprocess
import sys
import warnings
import zipfile
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import audit
from audit.cli import main

HOME = Path(__file__).parents[2]
HEAD = "claim_id,product,quantity,relation,value,value_to"
GOOD = "serial,Ra,U(Ra)\n1,93.0,1.0\n2,92.0,1.0\n"


def folder_with(tmp_path: Path, claims: str = "", **files: str) -> Path:
    folder = tmp_path / "papers"
    folder.mkdir(parents=True, exist_ok=True)
    if claims:
        (folder / "claims.csv").write_text(f"{HEAD}\n{claims}\n", encoding="utf-8")
    for name, text in files.items():
        (folder / name.replace("__", ".")).write_text(text, encoding="utf-8")
    return folder


def run_cli(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    return result.exit_code, result.output


def observed(run, rule: str) -> list[dict[str, str]]:
    return [row for row in run.observations if row["rule"] == rule]


def test_every_claim_supported_is_status_0(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD))
    assert [(each["verdict"], each["value"]) for each in run.findings] == [("supported", 92.0)]
    assert run.exit_status == 0


def test_a_finding_leads_to_its_cell(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD))
    deciding = [row for row in run.findings[0]["evidence"] if row["role"] == "deciding"]
    assert [(row["document"], row["place"], row["raw"]) for row in deciding] == [
        ("report.csv", "row 3, cell B3", "92.0")
    ]


def test_without_claims_readings_are_listed_and_the_status_is_1(tmp_path):
    run = audit.run(folder_with(tmp_path, report__csv=GOOD))
    assert run.findings == []
    assert len(run.report.readings) == 2
    assert "claims sheet" in run.report.missing[0]
    assert run.exit_status == 1


def test_a_claims_sheet_without_a_claim_is_what_is_missing(tmp_path):
    run = audit.run(folder_with(tmp_path, "#,what a product is called,,,,", report__csv=GOOD))
    assert "no row of claims.csv" in run.report.missing[0]
    assert not observed(run, "claim_not_read")
    assert run.exit_status == 1


def test_moving_one_limit_past_its_value_flips_that_claim_alone(tmp_path):
    claims = "A,Sedge,ra,at_least,{},\nB,Sedge,ra,at_most,99,\nC,Sedge,rf,at_least,80,"
    before, after = (
        audit.run(folder_with(tmp_path, claims.format(limit), report__csv=GOOD)).findings for limit in (90, 94)
    )
    assert (before[0]["verdict"], after[0]["verdict"]) == ("supported", "contradicted")
    assert before[1:] == after[1:]


def test_the_report_is_the_same_bytes_again_and_in_another_order(tmp_path):
    first = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", a__csv=GOOD, b__csv=GOOD.replace("93.0", "93.5"))
    outs = []
    for number in range(2):
        out = tmp_path / f"out{number}"
        run_cli("audit", first, "--out", out)
        outs.append({path.name: path.read_bytes() for path in out.iterdir()})
    assert outs[0] == outs[1]
    assert set(outs[0]) == {"findings.json", "findings.xlsx", "report.html"}


def test_rows_and_file_names_in_another_order_change_no_finding(tmp_path):
    rows = GOOD.splitlines()
    turned = "\n".join([rows[0], rows[2], rows[1]]) + "\n"
    one = audit.run(folder_with(tmp_path / "one", "A,Sedge,ra,at_least,90,", a__csv=GOOD)).findings[0]
    two = audit.run(folder_with(tmp_path / "two", "A,Sedge,ra,at_least,90,", z__csv=turned)).findings[0]
    cells = ("evidence", "identity")  # where it stands is another place, what it says is the same
    assert {key: one[key] for key in one if key not in cells} == {key: two[key] for key in two if key not in cells}


def test_an_empty_folder_is_status_2_with_a_remedy(tmp_path):
    (tmp_path / "bare").mkdir()
    code, output = run_cli("audit", tmp_path / "bare")
    assert code == 2
    assert "is empty" in output
    assert "put the claims sheet" in output


def test_a_folder_that_is_none(tmp_path):
    code, output = run_cli("audit", tmp_path / "nowhere")
    assert code == 2
    assert "is no folder" in output


def test_an_output_that_cant_be_written(tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder should be", encoding="utf-8")
    code, output = run_cli("audit", folder_with(tmp_path, report__csv=GOOD), "--out", blocked)
    assert code == 2
    assert "--out" in output
    assert not list(tmp_path.glob("**/*.json"))


def test_an_unknown_quantity_offers_the_nearest_name_and_the_rest_go_on(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,r_9,at_least,50,\nB,Sedge,ra,at_least,90,", report__csv=GOOD))
    assert [each["claim_id"] for each in run.findings] == ["B"]
    assert "'r9'" in observed(run, "claim_not_read")[0]["ask"]
    assert run.exit_status == 1


def test_a_truncated_workbook_is_named_and_the_rest_go_on(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    whole = (HOME / "sample_reports" / "gallery" / "LR-0431 photometry.xlsx").read_bytes()
    (folder / "cut.xlsx").write_bytes(whole[: len(whole) // 2])
    run = audit.run(folder)
    assert [each["verdict"] for each in run.findings] == ["supported"]
    refused = [row for row in run.observations if row["document"] == "cut.xlsx"]
    assert [row["tier"] for row in refused] == ["major"]
    assert "whole copy" in refused[0]["ask"]


def test_a_workbook_bomb_is_refused_unopened(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    with zipfile.ZipFile(folder / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 50_000_000)
    run = audit.run(folder)
    refused = [row for row in run.observations if row["document"] == "bomb.xlsx"]
    assert len(refused) == 1
    assert "unpack" in refused[0]["message"]


@pytest.mark.parametrize(
    "name",
    ["with space.csv", "quote'\"s.csv", "emoji 💡.csv", "<b>bold<b>.csv", "=1+1.csv", "report..csv", "a;b,c.csv"],
)
def test_names_of_every_kind_are_read_and_shown_inert(tmp_path, name):
    folder = folder_with(tmp_path, "A,<script>alert(1)</script>,ra,at_least,90,")
    (folder / name).write_text(GOOD, encoding="utf-8")
    out = tmp_path / "out"
    code, output = run_cli("audit", folder, "--out", out)
    assert code == 0, output
    finding = json.loads((out / "findings.json").read_text(encoding="utf-8"))["findings"][0]
    assert finding["evidence"][0]["document"] == name
    assert "<script>alert" not in (out / "report.html").read_text(encoding="utf-8")


def test_links_are_named_and_not_followed(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    secret = tmp_path / "secret.csv"
    secret.write_text("serial,Ra\n9,10\n", encoding="utf-8")
    (folder / "link.csv").symlink_to(secret)
    (folder / "round").symlink_to(folder)
    run = audit.run(folder)
    assert sorted(row["subject"] for row in observed(run, "link_not_followed")) == ["link.csv", "round"]
    assert [each["verdict"] for each in run.findings] == ["supported"]


def test_a_file_that_no_reader_knows_is_asked_for(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    (folder / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)) * 8)
    run = audit.run(folder)
    rows = [row for row in run.observations if row["document"] == "photo.jpg"]
    assert [row["tier"] for row in rows] == ["major"]
    assert rows[0]["ask"]


def test_a_byte_order_mark_changes_nothing(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,")
    (folder / "report.csv").write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert audit.run(folder).findings[0]["verdict"] == "supported"


def spectrum(values: dict[str, np.ndarray], wavelengths: np.ndarray) -> str:
    lines = ["wavelength (nm)," + ",".join(values)]
    lines += [
        f"{nm:g}," + ",".join(f"{column[i]:.9g}" for column in values.values()) for i, nm in enumerate(wavelengths)
    ]
    return "\n".join(lines) + "\n"


def test_one_bad_spectrum_is_named_and_the_others_are_computed(tmp_path):
    nm = np.arange(380, 785, 5.0)
    good = np.exp(-(((nm - 580) / 90) ** 2)) + 0.4 * np.exp(-(((nm - 450) / 12) ** 2))
    columns = {"1": good, "2": good - 0.5, "3": np.zeros_like(nm)}
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,20,", spectra__csv=spectrum(columns, nm)))
    assert run.findings[0]["units"] == 1
    told = " ".join(row["message"] for row in run.observations if row["tier"] == "major")
    assert "-98" in told
    assert "zero" in told


@pytest.mark.parametrize("fault", ["descending", "doubled"])
def test_wavelengths_out_of_order_are_named_with_their_place(tmp_path, fault):
    nm = np.arange(380, 785, 5.0)
    nm = np.concatenate([nm[:40], nm[39:40], nm[40:]]) if fault == "doubled" else nm[[0, 2, 1, *range(3, 81)]]
    run = audit.run(
        folder_with(tmp_path, "A,Sedge,ra,at_least,20,", spectra__csv=spectrum({"1": np.ones_like(nm)}, nm))
    )
    rows = [row for row in run.observations if row["document"] == "spectra.csv" and row["tier"] == "major"]
    assert rows
    assert rows[0]["place"]
    assert rows[0]["ask"]
    assert run.findings[0]["verdict"] == "unevidenced"


def colour_exports() -> list[Path]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    resources = Path(colour.__file__).parent / "io" / "tests" / "resources"
    return [next(resources.glob("*.xls")), next(resources.glob("*_3262K.csv"))]


def test_a_real_export_with_a_claims_sheet_is_judged(tmp_path):
    # An instrument's export that comes with the colour-science package (BSD-3-Clause), read as it is.
    tab_separated, comma = colour_exports()
    folder = folder_with(
        tmp_path,
        "A,Sedge,ra,at_least,80,\nB,Sedge,cct,within,3260,100\nC,Sedge,r9,at_least,50,\nD,Sedge,svm,at_most,1,",
    )
    (folder / comma.name).write_bytes(comma.read_bytes())
    run = audit.run(folder)
    assert [each["verdict"] for each in run.findings] == ["supported", "supported", "contradicted", "unevidenced"]
    assert "only product" in run.findings[0]["method"]
    assert all("too few units" in each["reasons"] for each in run.findings[:3])
    assert observed(run, "recomputed_differs") == []
    (folder / comma.name).unlink()
    (folder / tab_separated.name).write_bytes(tab_separated.read_bytes())
    assert [each["verdict"] for each in audit.run(folder).findings][:1] == ["supported"]


def test_printed_values_that_the_spectrum_does_not_give_are_observed(tmp_path):
    # Two real exports of the colour-science package: one prints Rf by an older edition of the method (see
    # tests/quantities/test_instrument_exports.py), and R3 and R14 beyond their tolerance; the other agrees throughout.
    tab_separated, comma = colour_exports()
    folder = folder_with(tmp_path)
    for export in (tab_separated, comma):
        (folder / export.name).write_bytes(export.read_bytes())
    run = audit.run(folder)
    found = {(row["document"], row["subject"]) for row in observed(run, "recomputed_differs")}
    assert found == {(tab_separated.name, quantity) for quantity in ("rf", "r3", "r14")}


def test_a_data_sheet_that_contradicts_a_claim_is_asked_about_and_decides_nothing(tmp_path):
    sheet = "serial,Ra,standing\n1,85,data sheet\n"
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD, sheet__csv=sheet))
    assert run.findings[0]["verdict"] == "supported"
    found = observed(run, "paper_conflicts")
    assert [(row["tier"], row["document"], row["place"]) for row in found] == [("minor", "sheet.csv", "row 2, cell B2")]


@pytest.mark.parametrize("count", [2, 60])
def test_copies_of_one_file_count_once(tmp_path, count):
    files = {f"copy{number}__csv": "Ra,CCT setting (K)\n95,3000\n" for number in range(count)}
    folder = folder_with(tmp_path, "", **files)
    (folder / "claims.csv").write_text(
        "claim_id,product,quantity,relation,value,population_percent\nA,Sedge,ra,at_least,90,95\n", encoding="utf-8"
    )
    run = audit.run(folder)
    assert run.findings[0]["verdict"] == "overreaching"
    assert run.findings[0]["units"] == 1
    assert f"{count} times" in observed(run, "document_copied")[0]["message"]


@pytest.mark.parametrize(
    ("heading", "text"), [("Ra", "190"), ("luminous flux (lm)", "-1200"), ("power factor", "9"), ("x", "5")]
)
def test_an_impossible_value_is_left_out_at_its_cell(tmp_path, heading, text):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=f"serial,{heading}\n1,{text}\n"))
    found = [row for row in run.observations if row["document"] == "report.csv" and row["tier"] == "major"]
    assert len(found) == 1
    assert "B" in found[0]["place"]
    assert found[0]["ask"]
    assert len(run.evidence.readings) == 0


def test_a_document_without_values_is_named(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD, bare__csv="serial,Ra\n"))
    assert [row["document"] for row in observed(run, "table_without_rows")] == ["bare.csv"]
    empty = folder_with(tmp_path, empty__csv="")
    assert "empty.csv" in [row["document"] for row in audit.run(empty).observations if row["tier"] == "major"]


def test_claims_alone_say_that_no_document_was_handed_in(tmp_path):
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,"))
    assert observed(run, "no_documents")[0]["tier"] == "major"


def test_the_report_can_neither_go_into_the_folder_nor_be_read_as_a_document(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    code, output = run_cli("audit", folder, "--out", folder)
    assert code == 2
    assert "--out" in output
    assert run_cli("audit", folder, "--out", folder / "out")[0] == 0
    assert run_cli("audit", folder, "--out", folder / "out")[0] == 0


@pytest.mark.parametrize("name", ["claimlight-out", ".away", "old report"])
def test_folders_that_are_passed_over_are_named(tmp_path, name):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    (folder / name).mkdir()
    for file in ("findings.json", "report.html", "more.csv"):
        (folder / name / file).write_text("serial,Ra\n9,20\n", encoding="utf-8")
    run = audit.run(folder)
    assert [(row["tier"], row["subject"]) for row in observed(run, "folder_not_read")] == [("minor", name)]
    assert run.findings[0]["verdict"] == "supported"


def test_a_name_that_is_no_utf_8_is_shown_with_escapes(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,")
    with open(os.fsencode(folder) + b"/bad\xff.csv", "w", encoding="utf-8") as stream:
        stream.write(GOOD)
    code, output = run_cli("audit", folder, "--out", tmp_path / "out")
    assert code == 0, output


def test_a_terminal_without_greek_letters_gets_question_marks(tmp_path):
    folder = folder_with(
        tmp_path, "A,Sedge,luminous_flux,at_least,90,", report__csv="serial,luminous flux (lm)\n1,950\n"
    )
    command = [sys.executable, "-c", "from audit.cli import main; main()", "audit", str(folder)]
    environment = {**os.environ, "PYTHONPATH": str(HOME), "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert b"?v" in done.stdout


def test_products_are_named_by_folder_when_there_are_several(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge 80,ra,at_least,90,\nB,Samphire,ra,at_least,90,")
    for name, text in (("sedge-80", GOOD), ("Samphire", GOOD.replace("93.0", "80.0"))):
        (folder / name).mkdir()
        (folder / name / "report.csv").write_text(text, encoding="utf-8")
    (folder / "stray.csv").write_text(GOOD.replace("93.0", "94.0"), encoding="utf-8")
    run = audit.run(folder)
    assert [each["verdict"] for each in run.findings] == ["supported", "contradicted"]
    assert [row["document"] for row in observed(run, "product_not_named")] == ["stray.csv"]


def test_the_command_ends_with_the_status_of_the_audit(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD)
    command = [sys.executable, "-c", "from audit.cli import main; main()", "audit", str(folder)]
    done = subprocess.run(
        command, cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(HOME)}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "claimlight-out" / "papers" / "report.html").is_file()
    assert "1 claim: 1 supported" in done.stdout


def test_plugins_are_listed_and_a_broken_one_is_status_1(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("raise RuntimeError('out of order')", encoding="utf-8")
    assert run_cli("plugins")[0] == 0
    code, output = run_cli("plugins", "--plugin", bad)
    assert code == 1
    assert "out of order" in output


def test_a_broken_plugin_is_observed_in_an_audit(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("raise RuntimeError('out of order')", encoding="utf-8")
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD), plugins=(bad,))
    assert observed(run, "plugin_failed")[0]["tier"] == "major"
    assert run.findings[0]["verdict"] == "supported"
    assert run.exit_status == 1


@pytest.mark.parametrize("stage", ["derive", "judge"])
def test_a_failing_check_costs_its_own_answers_only(tmp_path, stage):
    bad = tmp_path / "bad.py"
    bad.write_text(
        "from audit import Check, hookimpl\ndef fail(_):\n    raise ValueError('no idea')\n"
        f"@hookimpl\ndef register_checks():\n    return [Check('bad', 'bad', {stage}=fail)]\n",
        encoding="utf-8",
    )
    run = audit.run(folder_with(tmp_path, "A,Sedge,ra,at_least,90,", report__csv=GOOD), plugins=(bad,))
    assert "no idea" in observed(run, "check_failed")[0]["message"]
    assert run.findings[0]["verdict"] == "supported"


def test_the_simple_rule_and_the_confidence_are_used_and_said(tmp_path):
    folder = folder_with(tmp_path, "A,Sedge,ra,at_least,91.8,", report__csv=GOOD)
    assert audit.run(folder).findings[0]["verdict"] == "inconclusive"
    simple = audit.run(folder, rule=audit.Rule(name="simple")).findings[0]
    assert simple["verdict"] == "supported"
    assert "side alone" in simple["method"]
    assert audit.run(folder, rule=audit.Rule(confidence=0.6)).findings[0]["verdict"] == "supported"
