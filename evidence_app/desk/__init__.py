"""The desk: the register of received packages, reused photos, reviews and where repairs stop.

Reads packages and checks them through the package room; writes only its own register, its
photo index and countersigns beside a package, never a package. Nothing in it draws a window.
"""
