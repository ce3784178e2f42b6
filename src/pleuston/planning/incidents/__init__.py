"""What to do first when something goes wrong: cards with steps, tests, cautions and sources."""

from pleuston.planning.incidents.load import Caution, Incident, Step, cautions, incident, incidents

__all__ = ["Caution", "Incident", "Step", "cautions", "incident", "incidents"]
