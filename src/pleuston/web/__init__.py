"""Pages and the data interface of a rack: a keeper's browser talks to services through here."""
