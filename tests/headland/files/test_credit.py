"""Credit in campaign.yaml: ORCID iDs by their last character, names among the authors, a DOI."""

from pathlib import Path

import pytest

from headland.base.errors import UserErrors
from headland.files import credit, settings
from headland.report import package

ROOT = Path(__file__).parents[3]
DIGITS = "000000012345678"


def iD(digits: str) -> str:
    whole = digits + credit.check_character(digits)
    return "-".join(whole[place : place + 4] for place in range(0, 16, 4))


def written(folder: Path, text: str) -> Path:
    folder.mkdir()
    demo = (ROOT / "demo_inputs" / "campaign.yaml").read_text(encoding="utf-8")
    (folder / "campaign.yaml").write_text(demo + text, encoding="utf-8")
    return folder


def load(folder: Path) -> dict:
    return settings.load(folder, ROOT / "config", needs=())


def test_the_check_character_by_hand():
    """0 0 0 0 0 0 0 1 2 3 4 5 6 7 8: doubled and added on, 1 gives 2, then 8, 22, 52, 114, 240, 494, 1004."""
    assert 1004 % 11 == 3 and credit.check_character(DIGITS) == str(12 - 3)
    assert "X" in {credit.check_character(f"{number:015d}") for number in range(40)}


def test_every_mistyped_digit_and_every_exchange_of_neighbours_is_found():
    right = credit.check_character(DIGITS)
    for place in range(15):
        for digit in set("0123456789") - {DIGITS[place]}:
            assert credit.check_character(DIGITS[:place] + digit + DIGITS[place + 1 :]) != right
    for place in range(14):
        a, b = DIGITS[place : place + 2]
        if a != b:
            assert credit.check_character(DIGITS[:place] + b + a + DIGITS[place + 2 :]) != right


def test_credit_is_read_and_described(tmp_path):
    text = f'authors: ["Ada Example", "Bo Sample"]\norcid: {{Ada Example: "{iD(DIGITS)}"}}\n'
    S = load(written(tmp_path / "day", text + 'doi: "10.1234/abc"\nlicence: CC-BY-4.0\n'))
    made = package.package("day", S["title"], [], credit.of(S))
    assert made["id"] == "https://doi.org/10.1234/abc" and made["licenses"] == [{"name": "CC-BY-4.0"}]
    assert made["contributors"] == [
        {"title": "Ada Example", "role": "author", "path": f"https://orcid.org/{iD(DIGITS)}"},
        {"title": "Bo Sample", "role": "author"},
    ]
    assert not {"id", "licenses", "contributors"} & set(package.package("day", "A day", [], credit.of({})))


@pytest.mark.parametrize(
    "text, wanted",
    [
        (f'orcid: {{Ada Example: "{iD(DIGITS)[:-1]}0"}}', "does not fit the others"),
        (f'orcid: {{Ada Exampel: "{iD(DIGITS)}"}}', 'did you mean "Ada Example"'),
        ('orcid: {Ada Example: "1234"}', "an ORCID iD of four groups"),
        ("doi: https://doi.org/10.1234/abc", "without an address before it"),
    ],
)
def test_mistakes_are_said_with_the_line(tmp_path, text, wanted):
    with pytest.raises(UserErrors) as problem:
        load(written(tmp_path / "day", f'authors: ["Ada Example"]\n{text}\n'))
    (error,) = problem.value.errors
    assert wanted in str(error) and error.line == 39
