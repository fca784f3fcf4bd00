"""Many packages on many machines: Dask over folders or object storage (S3); needs the extra ``cluster``.

Reads packages by range and writes the results where it is told; what it finds is the package room's.
"""
