"""What happened at the station, kept so that it cannot be lost or silently altered.

Three kinds of table: the journal (append-only, hashed, signed), private data (erasable),
and read models (rebuilt from the other two at any time).  This is the only room that
touches the database.
"""
