"""The page on own rules: its files are written as shown and run, beside its conftest.py and installed."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pictures
import pytest
from shown_files import write_files

if TYPE_CHECKING:
    from portfolios import Portfolio


@pytest.fixture
def house(portfolio: Portfolio) -> Portfolio:
    """The page's files, and one picture of 16:9, which the grid does not have."""
    write_files("docs/own-rules.md", portfolio.folder)
    portfolio.picture("wide.jpg", pictures.art(160, 90))
    return portfolio


def test_the_rule_beside_the_manifest(house: Portfolio) -> None:
    run = house.run("deliverables.toml")
    assert run.failed() == ["wide::grid-shape"]
    check = run.check("wide::grid-shape")
    assert check["message"] == "160 x 90 px, the grid has 4:3, 1:1, 3:4"
    assert check["evidence"] == {"width": 160, "height": 90}
    assert check["advice"].startswith("Go back to the original")
    house.picture("wide.jpg", pictures.art(160, 120))
    assert house.run("deliverables.toml").failed() == []


def test_the_rule_is_listed_selected_and_completed(house: Portfolio) -> None:
    listed = house.run("--deliverable-rules", report=False).out
    (line,) = [line for line in listed.splitlines() if line.startswith("grid-shape ")]
    assert line.split(maxsplit=3) == [
        "grid-shape", "size", "require", "The picture has one of the three shapes of our grid.",
    ]  # fmt: skip
    assert '"grid-shape"' in house.run("--deliverable-schema", report=False).out
    marked = house.run("-m", "deliverable_size", "--strict-markers", "deliverables.toml")
    assert "wide::grid-shape" in marked.outcomes()


def test_the_rules_own_tests(house: Portfolio) -> None:
    run = house.run("test_house_rules.py", "-q", report=False)
    assert run.code == 0
    assert "4 passed" in run.out


def test_the_rule_takes_levels_points_and_waivers(house: Portfolio) -> None:
    text = (house.folder / "deliverables.toml").read_text()
    house.manifest(
        text + '\n[spec.grid]\nlevels = { grid-shape = "advise" }\npoints = { grid-shape = 2 }\n'
    )
    assert house.run("deliverables.toml").outcomes()["wide::grid-shape"] == "advised"
    house.manifest(text + 'waive = [{ rule = "grid-shape", reason = "the opening picture" }]\n')
    assert house.run("deliverables.toml").outcomes()["wide::grid-shape"] == "waived"


def test_the_rule_from_a_package(house: Portfolio) -> None:
    """Laid out as an installer would, from the page's own pyproject.toml; needs no network."""
    project = tomllib.loads((house.folder / "package/pyproject.toml").read_text())
    home = house.folder / "installed"
    home.mkdir()
    (house.folder / "conftest.py").rename(home / "house_hooks.py")
    (house.folder / "house_rules.py").rename(home / "house_rules.py")
    assert project["tool"]["hatch"]["build"]["targets"]["wheel"]["include"] == sorted(
        (path.name for path in home.iterdir()), reverse=True
    )
    facts = home / "house_rules-1.dist-info"
    facts.mkdir()
    (facts / "METADATA").write_text("Metadata-Version: 2.1\nName: house-rules\nVersion: 1\n")
    points = project["project"]["entry-points"]["pytest11"]
    (facts / "entry_points.txt").write_text(
        "[pytest11]\n" + "".join(f"{name} = {module}\n" for name, module in points.items())
    )
    run = house.run("deliverables.toml", PYTHONPATH=str(home))
    assert run.failed() == ["wide::grid-shape"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[GridShape()]", "[GridShape]", "is not a rule: return rules ready for use"),
        ("[GridShape()]", "[3]", "3 is not a rule"),
        ('"fill": "within"', '"fil": "within"', 'spec.grid.fil: unknown key; did you mean "fill"?'),
        ('"from": "screen"', '"from": "scren"', 'there is no spec "scren"; did you mean "screen"?'),
        ('{"from": "screen", "box": [160, 160], "fill": "within"}', "3", "a spec is a table"),
    ],
)  # fmt: skip
def test_a_slip_in_a_hook_is_one_clear_error(
    house: Portfolio, old: str, new: str, said: str
) -> None:
    out = slipped(house, "conftest.py", old, new)
    assert said in out
    assert "Traceback" not in out


def slipped(house: Portfolio, file: str, old: str, new: str) -> str:
    """What is shown when a file of the house holds something else."""
    path = house.folder / file
    path.write_text(path.read_text().replace(old, new))
    run = house.run("deliverables.toml", report=False)
    assert run.code == 2
    return run.out


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'family = "size"',
            'family = "shape"',
            'the rule "grid-shape" needs a family, one of: file,',
        ),
        ('family = "size"', 'name = "Grid::Shape"; family = "size"', "is no name of a rule"),
    ],
)
def test_a_slip_in_a_rule_is_one_clear_error(
    house: Portfolio, old: str, new: str, said: str
) -> None:
    assert said in slipped(house, "house_rules.py", old, new)
    listed = house.run("--deliverable-rules", report=False)
    assert listed.code == 4
    assert said in listed.out


def test_a_rule_that_breaks_off_fails_in_the_report_too(house: Portfolio) -> None:
    rules = house.folder / "house_rules.py"
    rules.write_text(rules.read_text().replace('header["width"]', 'header["breadth"]'))
    run = house.run("deliverables.toml")
    assert run.code == 1
    assert run.failed() == ["wide::grid-shape"]
    assert "broke off (KeyError)" in run.check("wide::grid-shape")["message"]
    assert "breadth" in run.out


def test_without_the_conftest_the_spec_is_unknown(house: Portfolio) -> None:
    run = house.run("deliverables.toml", "--noconftest", report=False)
    assert run.code == 2
    assert 'there is no spec "grid"' in run.out


def test_the_report_hook_gets_what_the_file_holds(house: Portfolio) -> None:
    with (house.folder / "conftest.py").open("a") as hooks:
        hooks.write(
            "def pytest_webdeliverable_report(report):\n"
            "    import json, pathlib\n"
            "    pathlib.Path('hook.json').write_text(json.dumps(report))\n"
        )
    run = house.run("deliverables.toml", "-n", "2")
    import json

    assert json.loads((house.folder / "hook.json").read_text()) == run.report
