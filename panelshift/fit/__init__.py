"""The fit sheet: what the maker asks before cutting.

In comes a `FitBasis`: the draft in all layers, the body, and what the maker chose. Out come
`FitFacts`: finished girths, growth, walked seams, what happens otherwise, and the cloth to buy;
and from these rows for scripts, tables, pictures, and one page to read and print.
"""
