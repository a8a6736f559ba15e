"""How a part comes to lie on the board, on cases worked out by hand from the piece document's definition."""
import unittest

import numpy as np
import shapely

import outlines

PART = {"outline": {"outer": [[0, 0], [10, 0], [10, 4], [2, 4]], "holes": []}}


class Placing(unittest.TestCase):
    def test_a_part_turns_about_its_own_origin_before_it_is_shifted(self):
        shown = outlines.on_board(PART, {"x": 100, "y": 50, "turn_deg": 90})
        self.assertTrue(shown.equals_exact(shapely.Polygon([(100, 50), (100, 60), (96, 60), (96, 52)]), 1e-9))

    def test_a_part_that_shows_its_back_is_mirrored_about_its_own_middle_first(self):
        shown = outlines.on_board({**PART, "face_shown": "back"}, {"x": 100, "y": 50, "turn_deg": 0})
        self.assertTrue(shown.equals(shapely.Polygon([(110, 50), (100, 50), (100, 54), (108, 54)])))

    def test_the_field_is_the_window_less_spacer_and_margin(self):
        frame = {"size_mm": [300, 400], "lip_mm": 6, "spacer_width_mm": 5, "margin_mm": {"left": 12, "right": 12, "top": 12, "bottom": 18}}
        window, field = outlines.window_and_field(frame)
        self.assertEqual(window.bounds, (0, 0, 288, 388))
        self.assertEqual(field.bounds, (17, 23, 271, 371))


class Arcs(unittest.TestCase):
    """SVG 1.1, 8.3.8: of the four arcs between two points, the flags for large and for positive angles choose one. y runs down."""

    def test_a_quarter_of_positive_angle_turns_clockwise_as_it_is_seen(self):
        points = np.array(outlines.svg_arc((10, 0), (0, 10), 10, 0, 1))
        self.assertTrue(np.allclose(np.hypot(*points.T), 10))
        self.assertTrue((points >= -1e-9).all())

    def test_the_large_arc_goes_the_long_way_about_the_same_circle(self):
        points = np.array(outlines.svg_arc((10, 0), (0, 10), 10, 1, 0))
        self.assertTrue(np.allclose(np.hypot(*points.T), 10))
        self.assertLess(points.min(), -9.99)

    def test_a_ring_of_lines_and_arcs_has_its_area(self):
        """A slot 30 long and 10 wide: 20 x 10 and a circle of radius 5."""
        ring = outlines.rings_of("M5 0L25 0A5 5 0 0 1 25 10L5 10A5 5 0 0 1 5 0Z")[0]
        self.assertAlmostEqual(shapely.Polygon(ring).area, 200 + 25 * np.pi, delta=0.01)

    def test_curves_of_other_kinds_are_refused(self):
        for d in ("M0 0C1 1 2 2 3 3Z", "M0 0A5 4 0 0 1 3 3Z"):
            with self.assertRaises(ValueError):
                outlines.rings_of(d)


if __name__ == "__main__":
    unittest.main()
