"""What a draft arrives in.

In: a file or its bytes. Out: a Drawing in millimetres, free of any file format.
"""
