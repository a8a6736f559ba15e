"""The workshop on disk, read by Python's own sqlite3, zipfile, zlib and hashlib.

    store.py --setapart BINARY --out DIR

The demo's piece goes into a workshop and out as a bundle, beside a backup; then everything is read without our code: the
database's marks, SQLite's integrity check, strict tables, the text of each revision, the hash of each image, and each
entry of the bundle.
"""
import hashlib
import json
import os
import shutil
import sqlite3
import sys
import zipfile
import zlib
from pathlib import Path

import tally

SQLITE = "Python's sqlite3"
ZIP = "Python's zipfile and hashlib"
APPNOTE = "PKWARE APPNOTE.TXT 6.3.10, 4.4"


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def take_number(data, at):
    """LEB128 (DWARF 5, 7.6)."""
    value = shift = 0
    while True:
        byte = data[at]
        at += 1
        value |= (byte & 0x7F) << shift
        shift += 7
        if byte < 0x80:
            return value, at


def applied(base, change):
    """Our changes between texts, read by their description in crates/workshop/src/delta.rs."""
    lines = base.splitlines(keepends=True)
    out, at = [], 0
    while at < len(change):
        mark = change[at]
        number, at = take_number(change, at + 1)
        if mark == 0:
            count, at = take_number(change, at)
            out += lines[number:number + count]
        else:
            out.append(change[at:at + number])
            at += number
    return b"".join(out)


def check_database(count, path, what):
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    ask = lambda sql: db.execute(sql).fetchall()
    count.check(ask("PRAGMA integrity_check") == [("ok",)], f"{what}: integrity_check", SQLITE)
    count.check(ask("PRAGMA foreign_key_check") == [], f"{what}: foreign_key_check", SQLITE)
    mark = ask("PRAGMA application_id")[0][0].to_bytes(4, "big")
    count.check(mark == b"Setp" and ask("PRAGMA user_version")[0][0] >= 1, f"{what}: application_id and user_version", SQLITE)
    loose = [r[1] for r in ask("PRAGMA table_list") if r[0] == "main" and not r[1].startswith("sqlite_") and not r[5]]
    count.check(not loose, f"{what}: all tables are strict ({', '.join(loose) or 'none is not'})", SQLITE)
    inflate = lambda body: zlib.decompress(body, -15)
    texts, wrong = {}, 0
    for number, base, digest, body in ask("SELECT id, base, digest, body FROM revision ORDER BY base IS NOT NULL, id"):
        # SQLite keeps text as bytes; lines end at line feeds only, as in JSON.
        text = inflate(body) if base is None else applied(texts[base], inflate(body))
        if base is None:
            texts[number] = text
        wrong += hashlib.sha256(text).digest() != digest
    revisions = ask("SELECT count(*) FROM revision")[0][0]
    count.check(revisions > 0 and wrong == 0, f"{what}: {revisions} states are what their digests say", "zlib, hashlib")
    heads = ask("SELECT head FROM document WHERE kind = 'piece'")
    count.check(all(json.loads(texts[h])["format"] == "setapart-piece" for (h,) in heads if h in texts),
                f"{what}: {len(heads)} pieces are JSON", "Python's json")
    db.close()


def check_images(count, folder, what):
    files = sorted(p for p in (folder / "images").iterdir())
    wrong = [p.name for p in files if sha256(p.read_bytes()) != p.stem]
    count.check(files and not wrong, f"{what}: {len(files)} images have their names' hashes", "hashlib")


def check_bundle(count, path, images):
    with zipfile.ZipFile(path) as bundle:
        count.check(bundle.testzip() is None, f"bundle: all checksums hold, {len(bundle.namelist())} entries", ZIP)
        manifest = json.loads(bundle.read("manifest.json"))
        wrong = [f["name"] for f in manifest["files"]
                 if sha256(bundle.read(f["name"])) != f["sha256"] or len(bundle.read(f["name"])) != f["bytes"]]
        count.check(not wrong, f"bundle: the manifest's {len(manifest['files'])} sizes and hashes hold", ZIP)
        listed = ["manifest.json"] + [f["name"] for f in manifest["files"]]
        count.check(bundle.namelist() == listed, "bundle: the manifest lists all entries, in their order", ZIP)
        plain = all(i.date_time == (1980, 1, 1, 0, 0, 0) and i.flag_bits & 1 == 0 and not i.extra and i.compress_type in (0, 8)
                    for i in bundle.infolist())
        count.check(plain, "bundle: no time, no encryption, no extra fields, stored or deflated", APPNOTE)
        piece = json.loads(bundle.read("piece.json"))
        named = {p["cutout"]["image"] for p in piece["parts"] if p.get("cutout")}
        count.check(len(named) == images and named <= set(bundle.namelist()), f"bundle: {images} cut-outs are in it", ZIP)


def main():
    args = tally.arguments(__doc__.splitlines()[0]).parse_args()
    count = tally.Tally()
    out = args.out / "store"
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    demo = Path(os.environ.get("SETAPART_DEMO_OUT", out / "demo"))
    if not (demo / "piece.json").exists():
        tally.run(args.setapart, "demo", demo)
    shop, backup, bundle = out / "shop", out / "backup", out / "piece.zip"
    workshop = lambda *words: tally.run(args.setapart, "workshop", "--workshop", shop, *words)
    workshop("import", demo / "piece.json")
    workshop("export", "1", "--out", bundle)
    workshop("import", bundle)
    workshop("backup", backup)
    images = len(list((demo / "cutouts").iterdir()))
    check_database(count, shop / "workshop.db", "workshop")
    check_database(count, backup / "workshop.db", "backup")
    check_images(count, shop, "workshop")
    check_images(count, backup, "backup")
    check_bundle(count, bundle, images)
    # Taken out of its zip by another program, a bundle is a folder that every command reads.
    with zipfile.ZipFile(bundle) as zipped:
        zipped.extractall(out / "taken-out")
    tally.run(args.setapart, "sheets", "--in", out / "taken-out/piece.json", "--out", out / "sheets")
    same = (out / "sheets/preview.png").read_bytes() == (demo / "preview.png").read_bytes()
    count.check(same, "the preview from the bundle is the demo's, byte by byte", ZIP)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
