//! Every bad drawing ends, soon, with words.

use super::super::*;
use super::dxf::{SQUARE, dxf, pairs};
use std::time::{Duration, Instant};

fn error(text: &str, format: DrawingFormat) -> String {
    let started = Instant::now();
    let said = match read(text, format) {
        Ok(d) => panic!(
            "{} outlines from {:?}",
            d.outlines.len(),
            &text[..text.len().min(200)]
        ),
        Err(e) => e.to_string(),
    };
    assert!(started.elapsed() < Duration::from_secs(20), "{said}");
    assert!(said.len() < 600, "{said}");
    said
}

const SVG: DrawingFormat = DrawingFormat::Svg;
const DXF: DrawingFormat = DrawingFormat::Dxf;
const GERBER: DrawingFormat = DrawingFormat::Gerber;

#[test]
fn empty_files_are_said_to_be_empty() {
    for format in [SVG, DXF, GERBER] {
        for text in ["", " \n"] {
            assert!(error(text, format).contains("is empty"));
        }
    }
    assert!(
        error("<svg xmlns='http://www.w3.org/2000/svg'/>", SVG).contains("draws no closed outline")
    );
    assert!(error(&dxf("4", "", ""), DXF).contains("draws no closed outline"));
    assert!(error("%FSLAX46Y46*%%MOMM*%M02*", GERBER).contains("draws no closed outline"));
}

#[test]
fn open_paths_alone_are_an_error_that_says_where() {
    let said = error(&dxf("4", "", &pairs("0 LINE 10 1 20 2 11 3 21 4")), DXF);
    assert!(
        said.contains("open paths left out: 1") && said.contains("(1.00, 2.00) to (3.00, 4.00)"),
        "{said}"
    );
}

#[test]
fn numbers_that_are_none_name_their_line() {
    for bad in ["nan", "NaN", "inf", "-inf", "1e400", "1,5", "abc"] {
        let text = dxf("4", "", &pairs(&format!("0 CIRCLE 10 {bad} 20 0 40 1")));
        let line = text.lines().position(|l| l == bad).unwrap() + 1;
        let said = error(&text, DXF);
        assert!(
            said.contains(&format!("line {line}:")) && said.contains("not a usable number"),
            "{said}"
        );
    }
    for body in [
        "<circle r='nan'/>",
        "<circle r='1' cx='1e400'/>",
        "<path d='M0 0L1 x z'/>",
        "<polygon points='0 0 1 0 1 q 2 2 3 3'/>",
        "<rect width='1' height='1' transform='scale(1e300) scale(1e300)'/>",
        "<rect transform='shrink(2)' width='1' height='1'/>",
    ] {
        let said = error(
            &format!("<svg xmlns='http://www.w3.org/2000/svg'>{body}</svg>"),
            SVG,
        );
        assert!(said.contains("line 1:"), "{body}: {said}");
    }
    for body in [
        "X1.2.3D02*",
        "XnanD02*",
        "X99999999999999999999Y0D01*",
        "X--1D02*",
        "G01X0Y0*",
        "D1D2X*",
    ] {
        let said = error(&format!("%FSLAX46Y46*%%MOMM*%{body}M02*"), GERBER);
        assert!(said.contains("line 1:"), "{body}: {said}");
    }
    assert!(error("%MOMM*%X0Y0D02*M02*", GERBER).contains("coordinate format"));
}

#[test]
fn files_cut_short_anywhere_are_errors() {
    let whole = dxf("4", "", &pairs(SQUARE));
    for keep in 0..whole.len() - 2 {
        if whole[keep..].trim() != "EOF" || keep < whole.len() - 4 {
            let _ = error(&whole[..keep], DXF);
        }
    }
    let whole = "%FSLAX46Y46*%%MOMM*%G01*X0Y0D02*X10000000D01*Y10000000D01*X0D01*Y0D01*M02*";
    for keep in 0..whole.len() {
        let _ = error(&whole[..keep], GERBER);
    }
    let whole = "<svg xmlns='http://www.w3.org/2000/svg' width='10mm'><g><rect width='9' height='9'/></g></svg>";
    for keep in 0..whole.len() {
        let _ = error(&whole[..keep], SVG);
    }
    assert!(error(&dxf("4", "", &pairs(SQUARE)).replace("EOF", ""), DXF).contains("cut short"));
    assert!(error("%FSLAX46Y46*%%MOMM*%G01*X0Y0D02*", GERBER).contains("M02"));
}

#[test]
fn blocks_nested_without_end_are_an_error() {
    // A in A; A in B in A; and a fan that doubles 40 times.
    let itself = pairs("0 BLOCK 2 a 10 0 20 0 0 INSERT 2 a 0 ENDBLK");
    assert!(error(&dxf("4", &itself, &pairs("0 INSERT 2 a")), DXF).contains("holds itself"));
    let ring = pairs("0 BLOCK 2 a 0 INSERT 2 b 0 ENDBLK 0 BLOCK 2 b 0 INSERT 2 a 0 ENDBLK");
    assert!(error(&dxf("4", &ring, &pairs("0 INSERT 2 a")), DXF).contains("holds itself"));
    let fan: String = (0..30)
        .map(|k| {
            pairs(&format!(
                "0 BLOCK 2 b{k} 0 INSERT 2 b{} 0 INSERT 2 b{} 0 ENDBLK",
                k + 1,
                k + 1
            ))
        })
        .collect();
    let said = error(&dxf("4", &fan, &pairs("0 INSERT 2 b0")), DXF);
    assert!(said.contains("more than 200000 entities"), "{said}");
    let table = pairs("0 BLOCK 2 a 0 ENDBLK");
    let said = error(
        &dxf("4", &table, &pairs("0 INSERT 2 a 70 32767 71 32767")),
        DXF,
    );
    assert!(said.contains("entities"), "{said}");
}

#[test]
fn references_nested_without_end_are_an_error() {
    let svg = |body: &str| format!("<svg xmlns='http://www.w3.org/2000/svg'>{body}</svg>");
    assert!(error(&svg("<g id='a'><use href='#a'/></g>"), SVG).contains("holds itself"));
    assert!(
        error(&svg("<use id='a' href='#b'/><use id='b' href='#a'/>"), SVG).contains("holds itself")
    );
    let fan: String = (0..30)
        .map(|k| {
            format!(
                "<g id='g{k}'><use href='#g{}'/><use href='#g{}'/></g>",
                k + 1,
                k + 1
            )
        })
        .collect();
    let said = error(&svg(&format!("<defs>{fan}</defs><use href='#g0'/>")), SVG);
    assert!(
        said.contains("entities") || said.contains("nested"),
        "{said}"
    );
    let deep = format!("{}{}", "<g>".repeat(100_000), "</g>".repeat(100_000));
    assert!(error(&svg(&deep), SVG).contains("nested"));
    let laughs = "<!DOCTYPE svg [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'><!ENTITY c '&b;&b;&b;&b;&b;&b;&b;&b;'><!ENTITY d '&c;&c;&c;&c;&c;&c;&c;&c;'><!ENTITY e '&d;&d;&d;&d;&d;&d;&d;&d;'>]>";
    let _ = error(
        &format!("{laughs}<svg xmlns='http://www.w3.org/2000/svg'><text>&e;&e;</text></svg>"),
        SVG,
    );
}

#[test]
fn too_much_is_refused() {
    let many = pairs(&"0 CIRCLE 10 0 20 0 40 50 ".repeat(3000)).replacen("20\n0", "20\n1", 1);
    let limits = DrawingLimits {
        points: 1000,
        ..DrawingLimits::default()
    };
    let said = Drawing::read(dxf("4", "", &many).as_bytes(), DXF, None, &limits)
        .unwrap_err()
        .to_string();
    assert!(said.contains("1000 points"), "{said}");
    let limits = DrawingLimits {
        bytes: 100,
        ..DrawingLimits::default()
    };
    assert!(matches!(
        Drawing::read(&[b' '; 101], SVG, None, &limits),
        Err(DrawingError::FileTooLarge { .. })
    ));
    // A circle of a kilometre has more chords than any part: it is refused by its place, not drawn.
    let _ = error(&dxf("4", "", &pairs("0 CIRCLE 10 0 20 0 40 1e9")), DXF);
    let _ = error(
        "%FSLAX66Y66*%%MOIN*%G03*X0Y0D02*X0Y0I999999000000J0D01*M02*",
        GERBER,
    );
    let _ = error("%FSLAX46Y46*%%MOMM*%%SRX99999Y99999I1J1*%M02*", GERBER);
    let rings: String = (0..2001)
        .map(|k| format!("<rect x='{}' width='1' height='1'/>", 2 * k))
        .collect();
    assert!(error(&format!("<svg xmlns='http://www.w3.org/2000/svg' width='10mm' viewBox='0 0 10 10'>{rings}</svg>"), SVG).contains("2000 closed paths"));
}

#[test]
fn other_files_are_told() {
    assert!(error("AC1027\0\0\0\0binary", DXF).contains("binary"));
    assert!(error("hello", SVG).contains("SVG"));
    assert!(error("<html xmlns='x'></html>", SVG).contains("no <svg>"));
    assert!(error("hello", DXF).contains("DXF"));
    assert!(error("hello*", GERBER).contains("Gerber"));
    assert_eq!(DrawingFormat::of(b"\x89PNG", None), None);
    assert_eq!(
        DrawingFormat::of(b"  <?xml version='1.0'?>\n<svg/>", None),
        Some(SVG)
    );
    assert_eq!(DrawingFormat::of(b"  0\r\nSECTION\r\n", None), Some(DXF));
    assert_eq!(
        DrawingFormat::of(b"G04 x*\n%FSLAX46Y46*%", None),
        Some(GERBER)
    );
    assert_eq!(DrawingFormat::of(b"", Some("GBR")), Some(GERBER));
}

/// Mutated drawings: whatever comes out, it comes out, soon.
#[test]
fn damaged_files_never_panic() {
    let seeds = [
        (DXF, dxf("4", &pairs("0 BLOCK 2 a 10 0 20 0 0 CIRCLE 10 1 20 1 40 1 0 ENDBLK"), &pairs(&format!("{SQUARE} 0 INSERT 2 a 10 1 20 1 41 2 50 30 70 2 44 3 0 ARC 10 0 20 0 40 3 50 10 51 200 0 ELLIPSE 10 5 20 5 11 3 21 4 40 0.5 0 SPLINE 70 8 71 2 40 0 40 0 40 0 40 1 40 1 40 1 10 0 20 0 10 5 20 5 10 9 20 0 41 1 41 2 41 1")))),
        (SVG, "<svg xmlns='http://www.w3.org/2000/svg' width='10mm' viewBox='0 0 10 9'><defs><g id='a'><circle r='2'/></g></defs><g transform='rotate(3)'><use href='#a' x='3'/><path d='M0 0C1 2 3 4 5 6S7 8 9 1Q1 2 3 3T1 1A3 2 10 0 1 4 4Z'/><rect width='4' height='5' rx='1'/><polygon points='0,0 1,1 2,0'/></g></svg>".into()),
        (GERBER, "G04 x*\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\n%SRX2Y2I9J9*%D10*G75*G01*X0Y0D02*X10000000D01*G03*X0Y9000000I-5000000J0D01*G01*X0Y0D01*%SR*%G36*X0Y0D02*X1000000Y0D01*Y1000000D01*X0Y0D01*G37*M02*".into()),
    ];
    let rounds = std::env::var("PROPTEST_CASES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(1500);
    let limits = DrawingLimits {
        entities: 2000,
        points: 20_000,
        ..DrawingLimits::default()
    };
    let mut state = 1_u64;
    // Knuth's MMIX constants, from memory: any mixing does.
    let mut random = move |n: usize| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % n
    };
    let (mut good, mut bad) = (0, 0);
    for (format, seed) in seeds {
        for _ in 0..rounds {
            let mut bytes = seed.clone().into_bytes();
            for _ in 0..=random(4) {
                let (i, j) = (random(bytes.len()), random(bytes.len()));
                match random(5) {
                    0 => bytes[i] = random(256) as u8,
                    1 => bytes[i] = b'0' + random(10) as u8,
                    2 => bytes[i] = bytes[j],
                    3 => drop(bytes.drain(i.min(j)..i.max(j).min(i.min(j) + 8))),
                    _ => bytes.insert(i, b"9-.en%*<>0 \n"[random(12)]),
                }
                if bytes.is_empty() {
                    bytes.push(b' ');
                }
            }
            match Drawing::read(&bytes, format, None, &limits) {
                Ok(_) => good += 1,
                Err(e) => {
                    assert!(!e.to_string().is_empty());
                    bad += 1;
                }
            }
        }
    }
    assert!(good > 100 && bad > 100, "{good}, {bad}");
}
