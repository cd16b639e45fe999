"""The faces' one door to the measuring: photos and options in, one frozen answer out.

A module a question (`fitting`, `port`, `route`, `caliper`, `threads`, `prints`, `camera`), so that
asking for a table does not load what reads pictures; `wire` makes the contract's JSON, `words`
says values as people read them, `pictures` draws what was found into the photo.
"""
