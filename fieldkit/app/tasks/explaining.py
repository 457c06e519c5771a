"""Where numbers come from: figures in a list, each followed down to what was typed and to its source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from fieldkit.app.dialogs.windows import Read
from fieldkit.app.screens.frame import MainScreen
from fieldkit.formulas.figures import Figure


class Explaining:
    """What screens that explain numbers have in common."""

    def explain(self, title: str, figures: Sequence[Figure]) -> None:
        """List figures; enter follows one to its own explanation."""
        frame = cast("MainScreen", self)
        style = frame.fieldkit.style
        lines = []
        for place, figure in enumerate(figures):
            value = style.value(figure.value, figure.unit, 4)
            assumed = ", assumed" if figure.assumed else ""
            lines.append((str(place), style.plain(f"{figure.label} = {value}{assumed}   [{figure.source}]")))

        def follow(key: str | None) -> None:
            if key is None:
                return
            figure = figures[int(key)]
            if figure.inputs:
                how = style.plain(f"{figure.label} = {style.value(figure.value, figure.unit, 6)}")
                self.explain(
                    f"{how}   {style.plain(figure.formula)}   [{style.plain(figure.source)}]",
                    [item for _, item in figure.inputs],
                )
            else:
                frame.note(f"{figure.label}: {figure.source}")

        hint = "enter follows a number to where it comes from   esc goes back"
        frame.app.push_screen(Read(title, lines, hint), follow)
