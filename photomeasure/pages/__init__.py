"""The web app's pages: each reads widgets, asks once, and draws the answer."""
