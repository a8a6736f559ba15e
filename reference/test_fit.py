"""The reference check of placings, on cases worked out by hand."""
import unittest

import numpy as np
import shapely

import fit


class Arcs(unittest.TestCase):
    def test_a_bulge_of_one_is_a_half_circle_that_turns_left(self):
        points = np.array(fit.arc_points((0, 0), (2, 0), 1.0))
        self.assertTrue(np.allclose(np.hypot(points[:, 0] - 1, points[:, 1]), 1))
        self.assertTrue((points[1:, 1] < 0).all())

    def test_two_of_them_enclose_their_circle(self):
        self.assertAlmostEqual(fit.drawn({"outer": [[-3, 0, 1], [3, 0, 1]], "holes": []}).area, 9 * np.pi, delta=0.01)

    def test_a_quarter_rounds_a_corner(self):
        b = np.tan(np.pi / 8)
        plate = fit.drawn({"outer": [[0, 0, 0], [10, 0, 0], [10, 8, b], [8, 10, 0], [0, 10, 0]], "holes": []})
        self.assertAlmostEqual(plate.area, 100 - (4 - np.pi), delta=0.001)


class Depths(unittest.TestCase):
    def test_a_tab_is_as_deep_as_it_is_long(self):
        place = shapely.box(0, 0, 20, 10)
        self.assertAlmostEqual(fit.depth_by_shapely(place.union(shapely.box(19, 4, 23, 6)), place), 3, delta=0.002)

    def test_a_covered_hole_is_as_deep_as_its_radius(self):
        plate = shapely.box(0, 0, 20, 20)
        place = plate.difference(shapely.Point(10, 10).buffer(3, quad_segs=256))
        self.assertAlmostEqual(fit.depth_by_shapely(plate, place), 3, delta=0.003)


class Turns(unittest.TestCase):
    def test_procrustes_gives_the_turn_of_corresponding_points(self):
        source = np.array([(0, 0), (5, 0), (4, 3), (1, 7)], float)
        a = np.radians(-37)
        target = source @ np.array([(np.cos(a), np.sin(a)), (-np.sin(a), np.cos(a))]) + (3, 9)
        self.assertAlmostEqual(fit.procrustes_turn_deg(source, target), -37, places=6)

    def test_equal_turns_of_a_square_are_no_error(self):
        self.assertAlmostEqual(fit.turn_error(181.0, 1.0, 90.0), 0)
        self.assertAlmostEqual(fit.turn_error(-179.5, 179.5), 1)

    def test_the_least_errors_of_a_square_are_those_of_its_four_sides(self):
        # n points on four sides of length s: each side's points tell one direction and the turn, with levers s/sqrt(12).
        square, step, noise = shapely.box(0, 0, 24, 24), 0.1, 0.05
        n = 96 / step
        mm, degrees = fit.least_sigmas(square, (step, noise))
        self.assertAlmostEqual(mm, noise * np.sqrt(2 / (n / 2)), delta=2e-5)
        self.assertAlmostEqual(np.radians(degrees), noise / np.sqrt(n) / (24 / np.sqrt(12)), delta=1e-6)


if __name__ == "__main__":
    unittest.main()
