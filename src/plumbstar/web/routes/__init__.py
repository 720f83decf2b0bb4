"""What each address answers. A handler reads its input, calls one function, and answers.

What needs the arithmetic is imported inside the functions that the workers run: it takes longer to
load than the first page takes to be shown.
"""
