"""How a part comes to lie on the board, on cases worked out by hand from the piece document's definition."""
import unittest

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


if __name__ == "__main__":
    unittest.main()
