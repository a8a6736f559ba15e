"""Honesty of sigma, on errors that are known by construction."""
import unittest

import shapely

from outline_errors import compare
from sigma import Honesty, share
from test_outline_errors import SQUARE, outline, truth


def grown(by_mm, sigma_mm):
    """A square captured too large everywhere by so much, with what it says of itself."""
    return compare(truth(SQUARE), [outline(SQUARE.buffer(by_mm, quad_segs=64)) | {"sigma_mm": sigma_mm}])


class Shares(unittest.TestCase):
    def test_an_error_of_one_and_a_half_sigma_is_within_two_and_not_within_one(self):
        honesty = Honesty()
        honesty.add("photo", grown(0.15, 0.1))
        z = honesty.pools()["card"]
        self.assertEqual((share(z, 1), share(z, 2)), (0.0, 1.0))

    def test_a_sigma_that_promises_too_much_is_seen(self):
        honesty = Honesty()
        honesty.add("photo", grown(0.15, 0.05))
        self.assertEqual(share(honesty.pools()["all"]), 0.0)

    def test_parts_are_pooled_by_length(self):
        """A square of perimeter 140 within its sigma, one of perimeter 40 not: 140 of 180 within."""
        small = shapely.box(100, 0, 110, 10)
        honesty = Honesty()
        honesty.add("photo", compare(truth(SQUARE, small), [outline(SQUARE) | {"sigma_mm": 0.1},
                                                            outline(small.buffer(0.5, join_style="mitre")) | {"sigma_mm": 0.1}]))
        self.assertAlmostEqual(share(honesty.pools()["all"]), 280 / (280 + 40 + 44), places=2)

    def test_an_outline_that_says_nothing_is_refused(self):
        with self.assertRaises(ValueError):
            Honesty().add("photo", grown(0.1, None))


if __name__ == "__main__":
    unittest.main()
