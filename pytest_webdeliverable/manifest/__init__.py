"""The manifest: declared in ``model``, read by ``load``, specs resolved in ``specs``."""
