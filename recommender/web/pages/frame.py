"""The frame of every view: the bar with the links to all views, light and dark, and the cautions."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from pathlib import Path

from nicegui import app, ui

from recommender.palette import Palette
from recommender.web.server.session import PageSession
from recommender.web.widgets.elements import button, link, tag, words

HERE = Path(__file__).parent
VIEWS = {"Formula": "/", "Map": "/map", "Trials": "/trials", "Shelf": "/shelf"}
QUIET = {"Materials": "/materials", "Notebook": "/notebook"}
"""Entries with further views behind them, at the end of the bar."""
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" rx="7" '
    'fill="#20403a"/><path d="M6 9c5 0 6 14 20 14" fill="none" stroke="#f4f1e8" stroke-width="2.6"/>'
    '<path d="M6 23h20" stroke="#f4f1e8" stroke-width="1.2" stroke-dasharray="2 3"/></svg>'
)
THEME = """
  const theme = localStorage.getItem('theme');
  if (theme) Quasar.Dark.set(theme === 'dark');
"""
LOST = (
    "No connection to the program. What you type in the lines of a formula waits there; all else is locked.",
    "If it has ended, start it again and open the address that it prints. What was stored before is there.",
)
"""What stands over the page while its socket is closed, in place of the words of the page's library."""
TELL = f"""
  const words = {json.dumps(LOST)};
  document.querySelectorAll('#popup span').forEach((span, n) => {{ span.textContent = words[n]; }});
"""
LOCK = """
  const offline = (gone) => document.body.classList.toggle('offline', gone);
  const waiting = setInterval(() => {
    if (!window.socket) return;
    clearInterval(waiting);
    window.socket.on('disconnect', () => offline(true));
    window.socket.on('connect', () => offline(false));
  }, 50);
  const stop = (event) => {
    if (!document.body.classList.contains('offline') || event.target.closest?.('.rows, #popup')) return;
    if (event.type === 'keydown' && !['Enter', ' ', 'ArrowUp', 'ArrowDown'].includes(event.key)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
  };
  for (const kind of ['beforeinput', 'click', 'mousedown', 'keydown']) addEventListener(kind, stop, true);
"""
"""Without a connection all but the lines of a formula is locked: nothing typed there would be stored."""
SWITCH = """() => {
  Quasar.Dark.set(!Quasar.Dark.isActive);
  localStorage.setItem('theme', Quasar.Dark.isActive ? 'dark' : 'light');
}"""
CAUTION = (
    "Hours are for a strip at 25 C and right within a factor of 2.2 at best; skin is warmer and shorter. "
    "Check the current Standards and your local law before anything is used on skin; "
    "a qualified person signs off. "
    "Concentrated materials can sensitise, burn or harm by vapour: gloves, moving air, "
    "the safety data sheet of the lot."
)


def assets() -> None:
    """Serve the page's own style sheet."""
    app.add_static_file(local_file=HERE / "style.css", url_path="/style.css")


@contextmanager
def frame(session: PageSession, title: str, here: str) -> Iterator[None]:
    """Lay out one page; what is made inside goes into its middle."""
    session.waiting.add(ui.context.client)
    ui.page_title(f"{title} · recommender" if title else "recommender")
    ui.add_head_html('<link rel="stylesheet" href="/style.css">')
    ui.add_body_html(f"<script>addEventListener('load', () => {{{THEME}{TELL}{LOCK}}});</script>")
    ui.context.client.content.classes("content")
    with ui.header(fixed=False, bordered=False, elevated=False).classes("bar"):
        link("Skip to the work", "#work", "skip")
        link("recommender", "/", "mark")
        with tag("nav", aria_label="Views"):
            for name, target in {**VIEWS, **QUIET}.items():
                item = link(name, target, "view quiet" if name in QUIET else "view")
                if name == here:
                    item.props["aria-current"] = "page"
        switch = button("◐", lambda: None, "plain sign theme", label="Light or dark")
        switch.on("click", js_handler=SWITCH)
    with tag("div", "work", id="work", tabindex="-1"):
        yield
    with tag("aside", "care", aria_label="Cautions"):
        words(CAUTION)
        words(f"Everything you type is saved in {session.path}", "where")
        link("The example of the first visit, with its hints", "/first")


def word_lists(palette: Palette) -> None:
    """Put the lists of words to choose from into the page: names of materials, and smells."""
    ui.add_body_html(names_of(palette) + facets_of(palette))


def names_of(palette: Palette) -> str:
    """Return as a list whatever a material can be called: names, CAS numbers, own labels."""
    catalogue = palette.catalogue
    options = []
    for material in catalogue.materials:
        stay = material.lasting.position if material.lasting else material.kind
        options.append((material.name, ", ".join(filter(None, (stay, material.cas)))))
        options += [(name.text, f"is {material.name}") for name in material.names]
        options += [(cas, f"is {material.name}") for cas in material.cas_all]
    for label, slug in catalogue.own_names.items():
        if slug in catalogue.index:
            options.append((label, f"yours: {catalogue.by_slug(slug).name}"))
    listed = "".join(f'<option value="{escape(value)}">{escape(text)}</option>' for value, text in options)
    return f'<datalist id="names">{listed}</datalist>'


def facets_of(palette: Palette) -> str:
    """Return the words for smells as a list."""
    catalogue = palette.catalogue
    found = [(facet.name, facet.meaning) for facet in catalogue.facets]
    found += [(umbrella.word, ", ".join(umbrella.members[:4])) for umbrella in catalogue.umbrellas]
    listed = "".join(f'<option value="{escape(value)}">{escape(text)}</option>' for value, text in found)
    return f'<datalist id="smells">{listed}</datalist>'
