"""The pages, one module per place; each gives a router. Fixed paths stand before `/t/{tank}`."""

from pleuston.web.routes import door, house, more, round_page, stores, tank_pages, tanks

ROUTERS = (
    tanks.router, round_page.router, more.router, house.router, door.router, stores.router,
    tank_pages.router,
)  # fmt: skip
