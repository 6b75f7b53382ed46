"""A short look for things with too many numbers to print: a few rows, in a notebook or a shell."""

import html


class Shown:
    """Shows itself by ``shown_rows``: (label, text) pairs, the first of them its name."""

    def __init_subclass__(cls, **options):
        super().__init_subclass__(**options)
        # a shell asks the class itself before its parents, and a dataclass has a repr of its own
        cls._repr_pretty_ = Shown._repr_pretty_

    def shown_rows(self):
        """What is worth knowing at a glance."""
        raise NotImplementedError

    def _repr_html_(self):
        rows = "".join(
            f'<tr><th scope="row" style="text-align:left">{html.escape(str(label))}</th>'
            f'<td style="text-align:left">{html.escape(str(text))}</td></tr>'
            for label, text in self.shown_rows()
        )
        return f"<table>{rows}</table>"

    def _repr_pretty_(self, printer, cycle):
        printer.text("\n".join(f"{label}: {text}" for label, text in self.shown_rows()))


class Report(dict, Shown):
    """A guide or a note: a dictionary ready for JSON, that shows its title and not its numbers."""

    def shown_rows(self):
        """Title, what it is for, and where its parts are."""
        rows = [("Report", self.get("title", self.get("kind", "")))]
        rows += [("In short", self[key]) for key in ("headline", "as_of_text") if self.get(key)]
        rows += [
            (month["title"], month["headline"])
            for month in self.get("months", ())
            if "headline" in month
        ]
        return [*rows, ("Keys", ", ".join(self))]
