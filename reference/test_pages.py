"""The bar finder, on PDF pages written by hand with bars of known length."""
import tempfile
import unittest
from pathlib import Path

import pages

MM = 72 / 25.4


def pdf_with(content, size_mm=(210.0, 297.0)):
    """The bytes of a one-page PDF (ISO 32000-1) with that content stream; lengths in its content are points."""
    objects = [b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
               f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {size_mm[0] * MM:.4f} {size_mm[1] * MM:.4f}] /Contents 4 0 R "
               "/Resources << /Font << /F 5 0 R >> >> >>".encode(),
               f"<< /Length {len(content)} >>\nstream\n{content}\nendstream".encode(),
               b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>"]
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode() + b"".join(f"{p:010d} 00000 n \n".encode() for p in places)
    return bytes(out) + f"trailer << /Size {len(objects) + 1} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()


def bar(x, y, length, upright, words="100 mm: measure me", tick=3.2):
    """A bar from (x, y) mm: two stretches with words between, end ticks, and short ticks on one side."""
    turn = (0, 1, -1, 0) if upright else (1, 0, 0, 1)
    ops = [f"q {turn[0]} {turn[1]} {turn[2]} {turn[3]} {x * MM:.4f} {y * MM:.4f} cm 0.71 w"]
    line = lambda a, b, c, d: ops.append(f"{a * MM:.4f} {b * MM:.4f} m {c * MM:.4f} {d * MM:.4f} l S")
    line(0, 0, 32, 0), line(length - 32, 0, length, 0)
    for at in (0, length):
        line(at, -tick / 2, at, tick / 2)
    for at in (10, 20, 30):
        line(at, 0, at, 1), line(length - at, 0, length - at, 1)
    ops.append(f"BT /F 9 Tf {(length / 2 - 15.4) * MM:.4f} {-1.1 * MM:.4f} Td ({words}) Tj ET Q")
    return "\n".join(ops)


def measured(content):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.pdf"
        path.write_bytes(pdf_with(content))
        size = pages.page_sizes_mm(path)[0]
        return [(upright, pages.bar_length_mm(path, 1, box, upright, size)) for box, upright in pages.labels(pages.words(path)[0])]


class Bars(unittest.TestCase):
    """Lengths by construction."""

    def test_bars_of_both_axes_are_measured_to_a_pixel(self):
        for length in (100.0, 100.401, 99.8, 99.6):
            found = measured(bar(55.13, 7.2, length, False) + "\n" + bar(7.31, 98.77, length, True))
            self.assertEqual(sorted(upright for upright, _ in found), [False, True])
            for _, mm in found:
                self.assertAlmostEqual(mm, length, delta=0.022)

    def test_words_without_a_bar_are_no_bar(self):
        self.assertEqual(measured("BT /F 9 Tf 200 300 Td (Both bars must measure 100 mm.) Tj ET"), [(False, None)])

    def test_a_line_without_end_ticks_is_no_bar(self):
        self.assertEqual(measured(bar(55, 7.2, 100, False, tick=0.2))[0][1], None)

    def test_a_sentence_between_black_squares_is_no_bar(self):
        squares = "".join(f"{x * MM:.2f} {95 * MM:.2f} {14 * MM:.2f} {14 * MM:.2f} re f\n" for x in (50, 116))
        said = f"BT /F 9 Tf {70 * MM:.2f} {100 * MM:.2f} Td (Both bars must measure) Tj ET BT /F 9 Tf {102 * MM:.2f} {100 * MM:.2f} Td (100 mm.) Tj ET"
        self.assertEqual([mm for _, mm in measured(squares + said)], [None])

    def test_drawing_beside_the_bar_does_not_move_its_end(self):
        beside = f"{50 * MM:.3f} {5.2 * MM:.3f} m {50 * MM:.3f} {12 * MM:.3f} l S"
        self.assertAlmostEqual(measured(bar(55, 7.2, 100, False) + "\n" + beside)[0][1], 100.0, delta=0.022)

    def test_page_sizes_are_read_in_millimetres(self):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "page.pdf"
            path.write_bytes(pdf_with("", (215.9, 279.4)))
            width, height = pages.page_sizes_mm(path)[0]
            self.assertAlmostEqual(width, 215.9, places=2)
            self.assertAlmostEqual(height, 279.4, places=2)


if __name__ == "__main__":
    unittest.main()
