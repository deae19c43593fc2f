"""How well the tests notice changes of the analysis: ``python -m tests.mutants``.

`drawing` lists the changes that mutmut can make and draws a sample of them, `__main__` has mutmut try them, `change` says
where each stands and what was noticed. `quickest_first` is a plugin for the runs of the tests.
"""
