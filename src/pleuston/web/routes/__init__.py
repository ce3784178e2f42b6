"""The pages, one module per place; each gives a router."""

from pleuston.web.routes import door, help_now, round_page, tanks

ROUTERS = (tanks.router, round_page.router, help_now.router, door.router)
