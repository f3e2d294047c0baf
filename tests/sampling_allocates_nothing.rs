//! Evaluating the limit surface allocates nothing per sample.
//!
//! A test program of its own, with one test: allocations are counted over the whole process.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::alloc::System;

use cagewise::limit::{FacePatches, pattern};
use cagewise::mesh::Vec3;
use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};
use support::cages::{Random, cube, torus};
use support::surface_of;

#[global_allocator]
static ALLOCATOR: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

/// Allocations while the pattern of a torus is read.
fn of_pattern(around: usize) -> usize {
    let surface = surface_of(&torus(around, 20, 3.0, 1.0));
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let read = || pattern::per_corner(&surface, |_, points| points[0].position.x);
    // The first time threads make what they keep.
    pool.install(read);
    let region = Region::new(ALLOCATOR);
    let values = pool.install(read);
    let allocations = region.change().allocations;
    assert_eq!(values.len(), around * 20 * 4);
    allocations
}

#[test]
fn samples_are_evaluated_without_an_allocation_and_the_pattern_with_few_per_task() {
    let surface = surface_of(&cube());
    let face = FacePatches::new(&surface, 0, 6);
    let mut random = Random(5);
    let mut sum = Vec3::zeros();
    // What the test harness allocates on its own thread meanwhile is counted too, now and then; what
    // evaluation allocates would be each time.
    let allocations = (0..5).map(|_| {
        let region = Region::new(ALLOCATOR);
        for _ in 0..10_000 {
            let at = [random.unit(), random.unit()].map(|x| 0.02 + 0.96 * x);
            let point = face.evaluate(0, at);
            sum += point.position * point.curvature().unwrap().mean();
        }
        region.change().allocations
    });
    assert_eq!(allocations.min(), Some(0), "{sum}");
    // 16 times the samples, and as many tasks at most: far below one allocation per face.
    let (few, many) = (of_pattern(20), of_pattern(320));
    assert!(many < few + 320 * 20 / 10, "{few} {many}");
}
