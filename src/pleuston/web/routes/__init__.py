"""The pages, one module per place; each gives a router. Fixed paths stand before `/t/{tank}`."""

from pleuston.web.routes import (
    api_answers,
    api_catalogue,
    api_entries,
    door,
    entries,
    help_now,
    house,
    in_out,
    log,
    more,
    paper_pages,
    round_page,
    stores,
    tank_pages,
    tanks,
)

ROUTERS = (
    tanks.router,
    round_page.router,
    more.router,
    help_now.router,
    paper_pages.router,
    house.router,
    in_out.router,
    door.router,
    stores.router,
    log.router,
    entries.router,
    api_entries.router,
    api_answers.router,
    api_catalogue.router,
    api_catalogue.pages,
    tank_pages.router,
)
