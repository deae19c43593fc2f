"""The subjects of the examiner: each module makes its recordings and judges what was said of them.

A module has `ABOUT`, `targets()`, `cases(scale)`, `made(case, seed)` and `judged(case, made, said)`.
"""
