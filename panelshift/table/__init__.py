"""The local web page: one job, five steps, on the maker's own machine.

`server` starts it; `app` answers requests; `session` holds the work and accepts edits. All
geometry is the library's: this package reads numbers, keeps files and draws what it is given.
"""
