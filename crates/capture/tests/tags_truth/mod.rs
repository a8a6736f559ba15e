//! The studio photos and what is exactly known of them (see tests/data/README.md).
#![allow(dead_code)]

use capture::photo::{Limits, LinearLuma, Photo, PhotoPoint};
use capture::sheet::Sheet;
use serde_json::Value;
use shape::Point;
use std::path::PathBuf;

pub const SCENES: [&str; 4] = ["window", "lamps", "ceiling", "harsh"];

/// The demo's photos, on our own sheet.
pub const DEMO: [&str; 4] = ["1-shells", "2-boards", "3-inside", "4-small"];

pub fn read(path: &str) -> Vec<u8> {
    let data = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/data");
    std::fs::read(data.join(path)).unwrap_or_else(|e| panic!("tests/data/{path}: {e}"))
}

pub fn studio(file: &str) -> Vec<u8> {
    read(&format!("studio/{file}"))
}

pub fn test_sheet() -> Sheet {
    Sheet::from_json(&studio("test_sheet.json")).expect("the test sheet is sound")
}

pub fn photo(scene: &str) -> Photo {
    Photo::decode(&studio(&format!("{scene}.jpg")), &Limits::default()).expect("a sound JPEG")
}

/// A picture from a function of the place, 0 to 1 in linear light.
pub fn drawn(width: usize, height: usize, light: impl Fn(usize, usize) -> f32) -> LinearLuma {
    let data = (0..width * height)
        .map(|i| light(i % width, i / width))
        .collect();
    LinearLuma {
        width,
        height,
        data,
    }
}

/// The camera that rendered a scene.
pub struct Truth {
    json: Value,
}

impl Truth {
    pub fn of(scene: &str) -> Self {
        Self::in_folder("studio", scene)
    }

    pub fn in_folder(folder: &str, scene: &str) -> Self {
        let bytes = read(&format!("{folder}/{scene}.truth.json"));
        Self {
            json: serde_json::from_slice(&bytes).expect("the truth is JSON"),
        }
    }

    fn camera(&self, field: &str) -> &Value {
        &self.json["camera"][field]
    }

    pub fn focal_px(&self) -> f64 {
        number(&self.camera("K")[0][0])
    }

    pub fn k1_k2(&self) -> [f64; 2] {
        [0, 1].map(|i| number(&self.camera("dist_k1k2p1p2k3")[i]))
    }

    pub fn position_mm(&self) -> [f64; 3] {
        [0, 1, 2].map(|i| number(&self.camera("position_mm")[i]))
    }

    /// Projection as the studio's README gives it, written out here once more so that it does not lean on
    /// the code under test.
    pub fn project(&self, p: Point) -> PhotoPoint {
        let (r, t, k) = (self.camera("R"), self.camera("t"), self.camera("K"));
        let in_camera: [f64; 3] = std::array::from_fn(|i| {
            number(&r[i][0]) * p.x + number(&r[i][1]) * p.y + number(&t[i])
        });
        let (x, y) = (in_camera[0] / in_camera[2], in_camera[1] / in_camera[2]);
        let [k1, k2] = self.k1_k2();
        let r2 = x * x + y * y;
        let stretch = 1.0 + k1 * r2 + k2 * r2 * r2;
        PhotoPoint::new(
            number(&k[0][0]) * x * stretch + number(&k[0][2]),
            number(&k[1][1]) * y * stretch + number(&k[1][2]),
        )
    }

    /// Parts that lie on the sheet: name, and the rings of the outline at the underside, in mm and as the
    /// studio projected them.
    pub fn bases(&self) -> Vec<(String, Vec<Point>, Vec<Vec<PhotoPoint>>)> {
        let parts = self.json["parts"].as_array().expect("a list of parts");
        parts
            .iter()
            .filter(|p| number(&p["z_mm"]) == 0.0)
            .map(|p| {
                let mm = pairs(&p["outline_mm"]);
                let px = p["base_px"].as_array().expect("rings").iter().map(pairs);
                (
                    p["name"].as_str().unwrap_or_default().to_owned(),
                    mm.iter().map(|&[x, y]| Point::new(x, y)).collect(),
                    px.map(|ring| ring.iter().map(|&[x, y]| PhotoPoint::new(x, y)).collect())
                        .collect(),
                )
            })
            .collect()
    }
}

fn pairs(list: &Value) -> Vec<[f64; 2]> {
    let list = list.as_array().expect("a list of points");
    list.iter()
        .map(|p| [number(&p[0]), number(&p[1])])
        .collect()
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}
