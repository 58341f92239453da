//! Distance of two linked tori of some 100,000 triangles, 4 mm apart, beside parry3d.

use base::{Affine, Progress};
use criterion::{Criterion, criterion_group, criterion_main};
use mesh::Mesh;
use mesh::distance::{Posed, Query, Surface, distance};
use parry3d::glamx::{Mat3, Quat};
use parry3d::math::{Pose, Vector};
use parry3d::shape::TriMesh;
use std::hint::black_box;
use std::sync::Arc;

fn torus(large: f64, small: f64, n: u32) -> Mesh {
    let mut mesh = Mesh::default();
    for i in 0..n {
        for j in 0..n {
            let [u, v] = [i, j].map(|k| std::f64::consts::TAU * f64::from(k) / f64::from(n));
            let r = large + small * v.cos();
            mesh.vertices.push([r * u.cos(), r * u.sin(), small * v.sin()]);
            let corner = |i: u32, j: u32| (i % n) * n + j % n;
            let [a, b] = [corner(i, j), corner(i + 1, j)];
            let [c, d] = [corner(i + 1, j + 1), corner(i, j + 1)];
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

#[expect(clippy::cast_possible_truncation, reason = "parry3d works in single precision")]
fn parry(mesh: &Mesh, pose: &Affine) -> (Pose, TriMesh) {
    let narrow = |v: [f64; 3]| Vector::from_array(v.map(|c| c as f32));
    let column = |k: usize| narrow([0, 1, 2].map(|i| pose.rows[i][k]));
    let turn = Mat3::from_cols(column(0), column(1), column(2));
    let pose = Pose::from_parts(column(3), Quat::from_mat3(&turn));
    let vertices = mesh.vertices.iter().map(|v| narrow(*v)).collect();
    (pose, TriMesh::new(vertices, mesh.triangles.clone()).expect("a sound mesh"))
}

fn bench(c: &mut Criterion) {
    let ring = torus(14.0, 5.0, 224); // 100,352 triangles
    let ready = Surface::new(Arc::new(ring.clone()));
    // Along the tube all around, each centre line 14 from the other; turned by nothing even.
    let askew = Affine::rotation_deg([13.0, 29.0, 41.0]);
    let poses = [
        (
            "linked, 4 mm all around",
            Affine::translation([14., 0., 0.]) * Affine::rotation_deg([90., 0., 0.]),
        ),
        (
            "linked, askew",
            Affine::translation([13.0, 0.7, 0.3]) * (Affine::rotation_deg([90., 0., 0.]) * askew),
        ),
        ("side by side", Affine::translation([42.0, 0., 0.])),
    ];
    for (name, pose) in poses {
        let mut group = c.benchmark_group(name);
        group.sample_size(10);
        let (a, b) =
            (Posed { surface: &ready, pose: askew }, Posed { surface: &ready, pose: askew * pose });
        let query = Query::default();
        group.bench_function("ours", |c| {
            c.iter(|| black_box(distance(&a, &b, &query, &Progress::default())));
        });
        let ((pose_a, mesh_a), (pose_b, mesh_b)) = (parry(&ring, &a.pose), parry(&ring, &b.pose));
        group.bench_function("parry3d", |c| {
            c.iter(|| black_box(parry3d::query::distance(&pose_a, &mesh_a, &pose_b, &mesh_b)));
        });
        group.finish();
    }
}

criterion_group!(benches, bench);
criterion_main!(benches);
