"""The desk: a web page on which people settle what is doubtful, and look things up."""

from scanform.desk.app import create_app
from scanform.desk.guards import LOOPBACK
from scanform.desk.serve import listening, open_browser, serve

__all__ = ["LOOPBACK", "create_app", "listening", "open_browser", "serve"]
