"""What every panel is as a widget: messages of the page go to a desk, its answers go back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import anywidget

from workbench.jupyter.assets import styles

if TYPE_CHECKING:
    from collections.abc import Mapping


class Desk(Protocol):
    """What answers a panel."""

    def answer(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to a message of the page."""
        ...


class PanelWidget(anywidget.AnyWidget):
    """A panel; traits that an answer names are set before the answer is sent."""

    _css = styles()

    def __init__(self, desk: Desk, **traits: Any) -> None:
        super().__init__(**traits)
        self._desk = desk
        self.on_msg(self._heard)

    def _heard(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        answer: dict[str, Any] = {
            "problem": "The workbench failed here; the notebook's log says how."
        }
        try:
            answer = self._desk.answer(message)
        finally:  # a page that gets no answer would take the entry for one still on its way
            for name in self.shared() & set(answer):
                self.set_trait(name, answer.pop(name))
            self.send({**answer, "id": message.get("id", "")})

    def shared(self) -> set[str]:
        """Return the names of the traits that an answer may set."""
        return set()
