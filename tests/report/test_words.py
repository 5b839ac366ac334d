"""Names out of maps, made fit to print."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.report.words import LONGEST, clean, drawable


@given(st.text(max_size=400))
def test_a_cleaned_name_holds_no_control_or_direction_characters(text: str) -> None:
    cleaned = clean(text)
    # Unicode Standard, table 4-4: general categories of control, format and surrogate characters.
    assert not {unicodedata.category(c) for c in cleaned} & {"Cc", "Cf", "Cs", "Co", "Cn"}
    assert len(cleaned) <= LONGEST
    assert clean(cleaned) == cleaned


@pytest.mark.parametrize(
    "name", ["Rue de l'Évêché", "Οδός Ερμού", "улица Ленина", "شارع", "中山路"]
)
def test_names_of_any_script_are_kept_as_they_are(name: str) -> None:
    assert clean(name) == name


def test_a_label_keeps_to_characters_the_figures_can_draw() -> None:
    assert drawable("Mühle 🚰") == "Mühle ·"
    assert drawable("中山路") == ""
