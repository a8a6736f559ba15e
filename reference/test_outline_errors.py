"""The comparison of outlines, on shapes whose distances are known by construction."""
import unittest

import numpy as np
import shapely
import shapely.affinity

from capture import CARD_MM, side_lengths
from outline_errors import compare, rms


def truth(*polygons, on=None):
    return {"camera": {"position_mm": [0.0, 0.0, 400.0]},
            "parts": [{"name": f"part{i}", "material": "card", "rim_z_mm": 1.0, "thickness_mm": 1.0, "on": on if i else None,
                       "outline_mm": shapely.get_coordinates(p.exterior)[:-1].tolist(),
                       "holes_mm": [shapely.get_coordinates(h)[:-1].tolist() for h in p.interiors]}
                      for i, p in enumerate(polygons)]}


def outline(p):
    return {"outer": shapely.get_coordinates(p.exterior)[:-1].tolist(),
            "holes": [shapely.get_coordinates(h)[:-1].tolist() for h in p.interiors]}


SQUARE = shapely.box(0, 0, 40, 30)
RING = shapely.Point(0, 0).buffer(20, quad_segs=64).difference(shapely.Point(0, 0).buffer(10, quad_segs=64))


class Distances(unittest.TestCase):
    def test_an_outline_that_is_the_truth_has_no_error(self):
        part = compare(truth(SQUARE), [outline(SQUARE)]).parts[0]
        self.assertLess(part.errors.max(), 1e-9)
        self.assertAlmostEqual(part.iou, 1.0)

    def test_a_ring_grown_by_a_fifth_of_a_millimetre_is_off_by_that_much_everywhere(self):
        part = compare(truth(RING), [outline(RING.buffer(0.2, quad_segs=64))]).parts[0]
        self.assertAlmostEqual(rms(part.errors), 0.2, places=3)
        self.assertAlmostEqual(part.outwards.mean(), 0.2, places=3)

    def test_a_shrunk_outline_has_a_negative_bias(self):
        part = compare(truth(SQUARE), [outline(SQUARE.buffer(-0.3, join_style="mitre"))]).parts[0]
        self.assertAlmostEqual(part.outwards.mean(), -0.3, places=6)

    def test_a_hole_that_was_not_captured_shows_in_the_errors(self):
        part = compare(truth(RING), [outline(shapely.Polygon(RING.exterior))]).parts[0]
        self.assertAlmostEqual(part.errors.max(), 10.0, places=2)

    def test_an_opening_that_its_height_hides_is_not_asked_for(self):
        """A hole of 1 mm through 4 mm, 99 mm from the nadir, seen from 400 mm: 1 - 99 x 4 / 396 = 0 mm of paper shows."""
        plate = shapely.box(89, -5, 109, 5)
        pierced = plate.difference(shapely.Point(99, 0).buffer(0.5, quad_segs=64))
        photo = truth(pierced)
        photo["parts"][0]["thickness_mm"] = 4.0
        hidden = compare(photo, [outline(plate)]).parts[0]
        self.assertEqual(hidden.hidden, 1)
        self.assertLess(hidden.errors.max(), 1e-9)
        photo["parts"][0]["thickness_mm"] = 0.5
        self.assertEqual(compare(photo, [outline(plate)]).parts[0].hidden, 0)

    def test_openings_are_counted_that_were_missed_or_invented(self):
        pierced = SQUARE.difference(shapely.Point(10, 10).buffer(2)).difference(shapely.Point(30, 10).buffer(2))
        found = SQUARE.difference(shapely.Point(10, 10).buffer(2)).difference(shapely.Point(20, 20).buffer(2))
        told = compare(truth(pierced), [outline(found)])
        self.assertEqual(told.openings(), (2, 1))
        self.assertEqual(told.openings_invented, 1)

    def test_points_count_by_length_and_not_by_vertices(self):
        crowded = shapely.Polygon(np.vstack([np.column_stack([np.linspace(0, 1, 1000), np.zeros(1000)]), [[40, 0], [40, 30], [0, 30]]]))
        moved = shapely.affinity.translate(crowded, 0, 0.1)
        part = compare(truth(crowded), [outline(moved)]).parts[0]
        self.assertAlmostEqual(len(part.errors), 2 * 140 / 0.25, delta=2)


class Finding(unittest.TestCase):
    def test_an_outline_far_from_every_part_is_an_invention(self):
        c = compare(truth(SQUARE), [outline(SQUARE), outline(shapely.box(100, 100, 110, 110))])
        self.assertEqual((len(c.missed()), c.invented), (0, [1]))

    def test_half_a_part_is_a_part_missed_and_an_outline_invented(self):
        c = compare(truth(SQUARE), [outline(shapely.box(0, 0, 19, 30))])
        self.assertEqual((len(c.missed()), c.invented), (1, [0]))

    def test_a_part_on_another_neither_counts_nor_makes_an_invention(self):
        chip = shapely.box(5, 5, 15, 15)
        with_chip = truth(SQUARE, chip, on="part0")
        self.assertEqual(len(compare(with_chip, [outline(SQUARE)]).parts), 1)
        self.assertEqual(compare(with_chip, [outline(SQUARE), outline(chip)]).invented, [])

    def test_two_outlines_of_one_part_are_one_found_and_one_invented(self):
        c = compare(truth(SQUARE), [outline(SQUARE), outline(SQUARE.buffer(-1))])
        self.assertEqual((c.parts[0].index, c.invented), (0, [1]))

    def test_an_outline_that_crosses_itself_is_refused(self):
        with self.assertRaises(ValueError):
            compare(truth(SQUARE), [{"outer": [[0, 0], [10, 10], [10, 0], [0, 10]], "holes": []}])


class Card(unittest.TestCase):
    def test_the_sides_of_a_card_are_measured_at_any_turn(self):
        """85.60 x 53.98 mm, corners of radius 3.18 mm: ISO/IEC 7810 ID-1."""
        card = shapely.box(3.18, 3.18, CARD_MM[0] - 3.18, CARD_MM[1] - 3.18).buffer(3.18, quad_segs=32)
        for turn in (0, 7, 45, 90, 133):
            long, short = side_lengths(shapely.affinity.rotate(card, turn))
            self.assertAlmostEqual(long, CARD_MM[0], places=6)
            self.assertAlmostEqual(short, CARD_MM[1], places=6)


if __name__ == "__main__":
    unittest.main()
