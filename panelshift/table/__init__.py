"""The local web page: one job, five steps, on the maker's own machine.

In come forms, dropped files and changes of the job file on the disk; out go pages, and the job
file as it was accepted. `server` starts it; `app` answers requests; `session` holds the work and
accepts edits. All geometry is the library's: this room reads numbers, keeps files and draws what
it is given.
"""
