"""The plates of one side of the bar, drawn small."""

from __future__ import annotations

from functools import lru_cache

from markupsafe import Markup

from barwright.coach.numbers import trimmed

_HEIGHT = 34.0
# Plates from 10 kg up share one diameter, lighter ones are smaller (technical rules of the sport; from memory).
_FORMS = ((20.0, 9.0, 34.0, "big"), (10.0, 7.0, 34.0, "mid"), (5.0, 6.0, 21.0, "mid"), (2.5, 5.0, 17.0, "mid"))
_SMALLEST = (4.0, 12.0, "tiny")


@lru_cache(maxsize=4096)
def plates_svg(each_side: tuple[tuple[float, int], ...]) -> Markup:
    """The sleeve with its plates, the heaviest inside. Told in words beside it, so hidden from screen readers."""
    x, out = 9.0, []
    for kg, count in each_side:
        width, height, kind = next((form[1:] for form in _FORMS if kg >= form[0]), _SMALLEST)
        for _ in range(count):
            out.append(
                f'<rect class="disc {kind}" x="{x:g}" y="{(_HEIGHT - height) / 2:g}" width="{width:g}" '
                f'height="{height:g}" rx="1.5"/>'
            )
            x += width + 1.2
    whole = max(x + 9, 48.0)
    sleeve = f'<rect class="sleeve" x="0" y="15" width="{whole:g}" height="4"/>'
    sleeve += '<rect class="bare" x="5" y="11" width="3" height="12"/>'
    return Markup(  # noqa: S704 - numbers only
        f'<svg class="plates" viewBox="0 0 {whole:g} {_HEIGHT:g}" width="{whole:g}" height="{_HEIGHT:g}" '
        f'aria-hidden="true">{sleeve}{"".join(out)}</svg>'
    )


def plates_words(each_side: tuple[tuple[float, int], ...]) -> str:
    """For example `25 + 2 × 10 each side`."""
    if not each_side:
        return "empty bar"
    told = [f"{count} × {trimmed(kg, 2)}" if count > 1 else trimmed(kg, 2) for kg, count in each_side]
    return f"{' + '.join(told)} each side"
