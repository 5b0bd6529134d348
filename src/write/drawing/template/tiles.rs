//! How a face is spread over sheets of paper that overlap.

use super::{HEAD, OVERLAP, STRIP, WHITE};
use crate::sketch::{Bounds, Point};
use crate::write::paper::small;

/// How a face is spread over sheets.
pub(super) struct Tiles {
    /// Size of the paper, mm.
    pub(super) paper: (f64, f64),
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// What is shown, in coordinates of the view.
    pub(super) area: Bounds,
}

impl Tiles {
    /// What a sheet shows of the plate, mm.
    pub(super) fn window(paper: (f64, f64)) -> (f64, f64) {
        (
            paper.0 - 2.0 * WHITE - STRIP,
            paper.1 - 2.0 * WHITE - STRIP - HEAD,
        )
    }
    /// The paper, upright or level, that needs fewer sheets.
    pub(super) fn choose(area: Bounds) -> Self {
        let need = |paper: (f64, f64)| {
            let (w, h) = Self::window(paper);
            let count = |size: f64, room: f64| {
                if size <= room {
                    1
                } else {
                    1 + ((size - room) / (room - OVERLAP)).ceil() as usize
                }
            };
            Self {
                paper,
                columns: count(area.width(), w),
                rows: count(area.height(), h),
                area,
            }
        };
        let (width, height) = small();
        let (upright, level) = (need((width, height)), need((height, width)));
        if level.columns * level.rows < upright.columns * upright.rows {
            level
        } else {
            upright
        }
    }
    pub(super) fn count(&self) -> usize {
        self.columns * self.rows
    }
    /// Lower left corner of a window in coordinates of the view; the plate stands in the
    /// middle of all windows together.
    pub(super) fn low(&self, column: usize, row: usize) -> Point {
        let (w, h) = Self::window(self.paper);
        let all = |n: usize, room: f64| n as f64 * (room - OVERLAP) + OVERLAP;
        let spare = (
            all(self.columns, w) - self.area.width(),
            all(self.rows, h) - self.area.height(),
        );
        Point::new(
            self.area.min.x - 0.5 * spare.0 + column as f64 * (w - OVERLAP),
            self.area.min.y - 0.5 * spare.1 + row as f64 * (h - OVERLAP),
        )
    }
    /// Register marks in the overlaps, in coordinates of the view.
    pub(super) fn marks(&self) -> Vec<Point> {
        let (w, h) = Self::window(self.paper);
        let mut out = Vec::new();
        for row in 0..self.rows {
            for column in 0..self.columns {
                let low = self.low(column, row);
                for share in [0.2, 0.8] {
                    if column > 0 {
                        out.push(Point::new(low.x + 0.5 * OVERLAP, low.y + share * h));
                    }
                    if row > 0 {
                        out.push(Point::new(low.x + share * w, low.y + 0.5 * OVERLAP));
                    }
                }
            }
        }
        out
    }
}
