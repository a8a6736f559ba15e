//! Pixels to PNG.

/// How hard it is tried to make a file small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Effort {
    /// For photographs and what looks like one: a fifth larger, in a twentieth of the time (60 ms in place of 1.4 s for a
    /// preview).
    Quick,
    /// For drawings, whose even stretches get many times smaller, and for what pages bring along.
    Small,
}

/// Encodes straight RGBA as PNG; `px_per_mm` is noted in the file, so that programs know its size.
pub(crate) fn encode_png(
    width_px: u32,
    height_px: u32,
    rgba: &[u8],
    px_per_mm: Option<f64>,
    effort: Effort,
) -> Result<Vec<u8>, png::EncodingError> {
    let opaque = rgba.chunks_exact(4).all(|p| p[3] == 255);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width_px, height_px);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_color(if opaque {
        png::ColorType::Rgb
    } else {
        png::ColorType::Rgba
    });
    encoder.set_compression(match effort {
        Effort::Quick => png::Compression::Fast,
        Effort::Small => png::Compression::Balanced,
    });
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    if let Some(px_per_mm) = px_per_mm {
        let per_metre = (px_per_mm * 1000.0).round() as u32;
        encoder.set_pixel_dims(Some(png::PixelDimensions {
            xppu: per_metre,
            yppu: per_metre,
            unit: png::Unit::Meter,
        }));
    }
    let mut writer = encoder.write_header()?;
    if opaque {
        let rgb: Vec<u8> = rgba
            .chunks_exact(4)
            .flat_map(|p| [p[0], p[1], p[2]])
            .collect();
        writer.write_image_data(&rgb)?;
    } else {
        writer.write_image_data(rgba)?;
    }
    writer.finish()?;
    Ok(bytes)
}
