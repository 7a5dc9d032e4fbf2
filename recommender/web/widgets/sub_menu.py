"""The links between the views behind one entry of the bar."""

from recommender.web.widgets import elements

MENUS = {
    "Materials": {
        "Find": "/materials",
        "Side by side": "/beside",
        "My own": "/own-materials",
        "My nose": "/nose",
        "Limits": "/limits",
    },
    "Notebook": {"Copies": "/notebook", "Removed": "/removed", "All formulas": "/formulas"},
}


def sub_menu(menu: str, here: str) -> None:
    """Add the links of one entry; `here` is the one that is shown."""
    with elements.tag("nav", "sub-menu", aria_label=menu):
        for name, target in MENUS[menu].items():
            item = elements.link(name, target, "view")
            if name == here:
                item.props["aria-current"] = "page"
