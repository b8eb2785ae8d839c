"""How the ears were trained. PyTorch code for one or more GPUs; the package never imports it.

In come packed sounds, grooves and accompaniment (`prepare`), out comes a checkpoint (`train`) and the
weights that `fourlimb.listen` ships (`export`). Start with README.md beside this file.
"""
