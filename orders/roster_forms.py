"""What the roster pages ask: a file or pasted cells, then what each column is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from orders.roster import Accepted
from orders.roster_columns import Guess, choices_of_column
from orders.roster_file import PASTED, Row, Table, read_pasted, read_table

COLUMN = "column_"
EXAMPLES = 3


class RosterForm(forms.Form):
    file = forms.FileField(
        label="Roster file",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        help_text="CSV or XLSX. The first row names the columns: member, size, colorway, and if "
        "wanted name_on_jacket, note and block:<block code>. Other names are asked about.",
    )
    pasted = forms.CharField(
        label="Or paste the cells of a sheet",
        required=False,
        max_length=500_000,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
        help_text="With the row that names the columns.",
    )

    def clean(self) -> None:
        file, pasted = self.cleaned_data.get("file"), self.cleaned_data.get("pasted")
        if file and pasted:
            self.add_error("pasted", "Choose a file or paste cells, not both.")
        elif not file and not pasted and not self.errors:
            self.add_error("file", "Choose a file, or paste the cells of a sheet below.")

    def table(self) -> tuple[str, Table]:
        """The name to call it by and what it holds; RosterError when it is no table."""
        if file := self.cleaned_data["file"]:
            return file.name, read_table(file, file.name)
        return PASTED, read_pasted(self.cleaned_data["pasted"])

    @property
    def source(self) -> str:
        """The field that errors of the table are about."""
        return "file" if self.cleaned_data["file"] else "pasted"


class ColumnsForm(forms.Form):
    """What each column of a table is taken for."""

    first_row_counts = forms.BooleanField(
        label="It is a member already, not the names of the columns", required=False
    )

    def __init__(
        self, data: Any, *, table: Table, guesses: Sequence[Guess], accepted: Accepted
    ) -> None:
        super().__init__(data)
        choices = choices_of_column(accepted.blocks)
        for place, guess in enumerate(guesses):
            title = guess.title or f"column {place + 1}, without a name"
            self.fields[f"{COLUMN}{place}"] = forms.ChoiceField(
                label=title[:60],
                required=False,
                choices=choices,
                initial=guess.column,
                help_text=_examples(table.rows, place),
            )
        self.order_fields([f"{COLUMN}{place}" for place in range(len(guesses))])
        self.count = len(guesses)

    def columns(self) -> list[str]:
        """What is chosen, or guessed while nothing was asked."""
        names = [f"{COLUMN}{place}" for place in range(self.count)]
        if not self.is_bound:
            return [str(self.fields[name].initial) for name in names]
        return [self.cleaned_data.get(name, "") for name in names]

    def counts_first_row(self) -> bool:
        return self.is_bound and bool(self.cleaned_data.get("first_row_counts"))


def _examples(rows: Sequence[Row], place: int) -> str:
    cells = [row.cells[place] for row in rows if row.cells[place]][:EXAMPLES]
    return "such as " + ", ".join(cell[:30] for cell in cells) if cells else "empty"
