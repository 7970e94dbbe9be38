"""`claimlight new`: what it writes is read as it stands, its lists offer what the reader takes, nothing is lost."""

import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.utils import range_boundaries

import audit
from audit.claims_workbook import COLUMNS, EXAMPLES, claims_workbook
from audit.cli import main
from audit.model import RELATIONS, STATISTICS, TEST_OBJECTS, Quantity
from audit.register import quantity_register
from audit.units import conversion, offered
from schemas.claims import CLAIM_COLUMNS

GOOD = "serial,Ra,U(Ra)\n1,93.0,1.0\n2,92.0,1.0\n"


def new(folder: Path, *options: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["new", str(folder), *options])
    return result.exit_code, result.output


def fill(file: Path, *claims: dict[str, object]) -> None:
    """Write claims below the row of explanation, as a person would."""
    book = openpyxl.load_workbook(file)
    columns = [cell.value for cell in book["claims"][1]]
    for row, claim in enumerate(claims, start=3):
        for name, value in claim.items():
            book["claims"].cell(row, 1 + columns.index(name), value)
    book.save(file)


@pytest.fixture
def folder(tmp_path):
    """A folder as the command makes it."""
    code, _ = new(tmp_path / "papers")
    assert code == 0
    return tmp_path / "papers"


def lists_of(sheet) -> dict[str, str]:
    """Return column -> formula of its list."""
    columns = {cell.column: cell.value for cell in sheet[1]}
    return {
        columns[range_boundaries(str(each.sqref))[0]]: each.formula1
        for each in sheet.data_validations.dataValidation
        if each.type == "list"
    }


def test_it_says_what_to_do_next(tmp_path):
    code, output = new(tmp_path / "my papers")
    assert code == 0
    assert "claims.xlsx" in output
    assert f"claimlight audit '{tmp_path / 'my papers'}'" in output


def test_the_columns_are_those_of_a_claims_sheet_each_explained(folder):
    sheet = openpyxl.load_workbook(folder / "claims.xlsx")["claims"]
    assert tuple(cell.value for cell in sheet[1]) == tuple(COLUMNS) == CLAIM_COLUMNS
    assert sheet["A2"].value == "#"
    assert all(cell.value for cell in sheet[2])
    assert sheet.freeze_panes == "C3"
    assert sheet.max_row == 2


def test_every_column_has_an_input_message_that_a_spreadsheet_program_takes(folder):
    validations = openpyxl.load_workbook(folder / "claims.xlsx")["claims"].data_validations.dataValidation
    assert len(validations) == len(CLAIM_COLUMNS)
    # ECMA-376 part 1, 18.3.1.32: titles of at most 32 characters, messages and formulas of at most 255.
    assert all(0 < len(each.prompt) <= 255 and len(each.promptTitle) <= 32 for each in validations)
    assert all(len(each.formula1 or "") <= 255 for each in validations)


def test_the_lists_offer_what_the_reader_takes(folder):
    book = openpyxl.load_workbook(folder / "claims.xlsx")
    lists = lists_of(book["claims"])
    assert lists["relation"] == f'"{",".join(RELATIONS)}"'
    assert lists["statistic"] == f'"{",".join(STATISTICS)}"'
    assert lists["test_object"] == f'"{",".join(TEST_OBJECTS)}"'
    cells = book["quantities"][lists["quantity"].partition("!")[2].replace("$", "")]
    assert [cell.value for (cell,) in cells] == list(quantity_register())
    assert {"unit", "definition"} < lists.keys()


@pytest.mark.parametrize("unit", sorted({quantity.unit for quantity in quantity_register().values()}))
def test_every_unit_offered_converts_and_differs_from_the_others(unit):
    conversions = [conversion(spelling, unit) for spelling in offered(unit)]
    assert offered(unit)[0] == unit
    assert len(set(conversions)) == len(conversions)


def test_a_fresh_folder_has_no_claims_yet_and_says_so(folder):
    run = audit.run(folder)
    assert "no row of claims.xlsx is one that can be judged" in run.report.missing[0]
    assert [row["rule"] for row in run.observations] == ["no_documents"]
    assert run.exit_status == 1


def test_a_filled_folder_is_judged(folder):
    fill(folder / "claims.xlsx", {**EXAMPLES[0], "claim_id": "A", "product": "Sedge"})
    (folder / "report.csv").write_text(GOOD, encoding="utf-8")
    run = audit.run(folder)
    assert [(each["claim_id"], each["verdict"], each["product"]) for each in run.findings] == [
        ("A", "supported", "Sedge")
    ]
    assert not [row for row in run.observations if row["made_by"] == "claims"]
    assert run.exit_status == 0


def test_the_examples_are_never_read_and_would_be_claims(folder):
    shown = openpyxl.load_workbook(folder / "claims.xlsx")["examples"]
    assert [shown.cell(row, 1).value for row in range(3, 3 + len(EXAMPLES))] == [each["claim_id"] for each in EXAMPLES]
    fill(folder / "claims.xlsx", *EXAMPLES)
    run = audit.run(folder)
    assert [each["claim_id"] for each in run.findings] == [each["claim_id"] for each in EXAMPLES]
    assert not [row for row in run.observations if row["made_by"] == "claims"]
    assert {each["relation"] for each in EXAMPLES} == set(RELATIONS)


@pytest.mark.parametrize("name", ["claims.xlsx", "claims.csv", "Claims of the maker.ods"])
def test_a_claims_sheet_that_is_there_stays_as_it_is(tmp_path, name):
    (tmp_path / name).write_bytes(b"mine")
    code, output = new(tmp_path)
    assert code == 2
    assert name in output
    assert "name another folder" in output
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes() == b"mine"


def test_a_link_is_not_written_through(tmp_path):
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "claims.xlsx").symlink_to(tmp_path / "elsewhere.xlsx")
    assert new(tmp_path / "papers")[0] == 2
    assert not (tmp_path / "elsewhere.xlsx").exists()


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    code, output = new(tmp_path / "file")
    assert code == 2
    assert "is a file" in output
    code, output = new(tmp_path / "file" / "below")
    assert code == 2
    assert "may write to" in output


def test_what_is_beside_stays_and_is_said_nothing_of(tmp_path):
    (tmp_path / "report.csv").write_text(GOOD, encoding="utf-8")
    assert new(tmp_path)[0] == 0
    assert (tmp_path / "report.csv").read_text(encoding="utf-8") == GOOD


def test_a_plugins_quantity_can_be_chosen(tmp_path):
    plugin = tmp_path / "gloom.py"
    plugin.write_text(
        "from audit import Check, Quantity, hookimpl\n@hookimpl\ndef register_checks():\n"
        "    return [Check('gloom', 'gloom', gives=(Quantity('gloom_factor', 'G', '=gloom', '%'),))]\n",
        encoding="utf-8",
    )
    assert new(tmp_path / "papers", "--plugin", str(plugin))[0] == 0
    sheet = openpyxl.load_workbook(tmp_path / "papers" / "claims.xlsx")["quantities"]
    (row,) = (row for row in sheet.iter_rows() if row[0].value == "gloom_factor")
    assert (row[2].value, row[2].data_type) == ("=gloom", "s")


def office(folder: Path, file: Path, kind: str) -> Path:
    """Let LibreOffice open a file and save it again; return the copy."""
    out = folder / "saved"
    profile = f"-env:UserInstallation=file://{folder}/profile"
    command = [shutil.which("soffice") or "soffice", profile, "--headless", "--convert-to", kind, "--outdir", str(out)]
    done = subprocess.run([*command, str(file)], capture_output=True, text=True, timeout=180, check=True)
    assert "Error" not in done.stdout + done.stderr
    return out / f"{file.stem}.{kind}"


@pytest.mark.office
def test_an_office_program_opens_it_and_keeps_lists_messages_and_claims(tmp_path, folder):
    fill(folder / "claims.xlsx", *EXAMPLES)
    saved = office(tmp_path, folder / "claims.xlsx", "xlsx")
    sheet = openpyxl.load_workbook(saved)["claims"]
    assert lists_of(sheet).keys() == lists_of(openpyxl.load_workbook(folder / "claims.xlsx")["claims"]).keys()
    assert {each.prompt for each in sheet.data_validations.dataValidation} == {words for _, words in COLUMNS.values()}
    shutil.copy(saved, folder / "claims.xlsx")
    run = audit.run(folder)
    assert [each["claim_id"] for each in run.findings] == [each["claim_id"] for each in EXAMPLES]
    assert not [row for row in run.observations if row["made_by"] == "claims"]


@pytest.mark.office
def test_the_lists_of_units_and_meanings_follow_the_rows_quantity(tmp_path):
    """The formulas of the lists, put into cells and worked out by LibreOffice."""
    known = {**quantity_register(), "gloom": Quantity("gloom", "G", "gloom", "%", definitions=("dull",))}
    file = tmp_path / "claims.xlsx"
    file.write_bytes(claims_workbook(known))
    book = openpyxl.load_workbook(file)
    lists, sheet = lists_of(book["claims"]), book.create_sheet("worked out")
    for row, name in enumerate(known, start=3):
        sheet.cell(row, 4, name)
        for column, which in ((5, "unit"), (7, "definition")):
            choice = lists[which].replace("$D3", f"$D{row}")
            sheet.cell(row, column, f"=COUNTA({choice})")
            sheet.cell(row, column + 1, f'=INDEX({choice},1,MAX(1,COUNTA({choice})))&""')
    book.save(file)
    worked = openpyxl.load_workbook(office(tmp_path, file, "xlsx"), data_only=True)["worked out"]
    for row, quantity in enumerate(known.values(), start=3):
        units, meanings = offered(quantity.unit), quantity.definitions
        found = [worked.cell(row, column).value or "" for column in (5, 6, 7, 8)]
        assert found == [len(units), units[-1], len(meanings) or "", meanings[-1] if meanings else ""], quantity.name
