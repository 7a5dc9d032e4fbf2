"""Tests in a real browser; a package, so that their conftest is not taken for that of the tests above."""
