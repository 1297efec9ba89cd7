//! Which triangle a straight look meets first: a bounding-volume tree over triangles, for picking and for what hides what.

use three_d::{InnerSpace, Vec3, vec3};

/// Most triangles in a leaf.
const LEAF: usize = 4;
/// Deeper than any tree that halves its triangles can be.
const DEPTH: usize = 64;

#[derive(Clone, Copy)]
struct Node {
    low: Vec3,
    high: Vec3,
    /// Of a leaf the first triangle, else the right child; the left child follows its parent.
    first: u32,
    /// Triangles of a leaf; 0 for an inner node.
    count: u32,
}

#[derive(Clone, Copy)]
pub struct Triangle {
    pub corners: [Vec3; 3],
    pub owner: u32,
}

/// What a look met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Distance along the look, in lengths of its direction.
    pub distance: f32,
    pub owner: u32,
    /// The look met the outside (counter-clockwise side).
    pub outside: bool,
}

#[derive(Default)]
pub struct Tree {
    nodes: Vec<Node>,
    triangles: Vec<Triangle>,
}

impl Tree {
    pub fn new(mut triangles: Vec<Triangle>) -> Tree {
        let mut nodes = Vec::with_capacity(triangles.len());
        if !triangles.is_empty() {
            split(&mut triangles, 0, &mut nodes);
        }
        Tree { nodes, triangles }
    }

    /// The first triangle that the look from `origin` along `direction` meets.
    pub fn first(&self, origin: Vec3, direction: Vec3) -> Option<Hit> {
        let inverse = vec3(1.0 / direction.x, 1.0 / direction.y, 1.0 / direction.z);
        let mut nearest: Option<Hit> = None;
        let mut stack = [0u32; DEPTH];
        let mut waiting = usize::from(!self.nodes.is_empty());
        while waiting > 0 {
            waiting -= 1;
            let at = stack[waiting] as usize;
            let node = &self.nodes[at];
            if !meets(node, origin, inverse, nearest.map_or(f32::INFINITY, |h| h.distance)) {
                continue;
            }
            if node.count > 0 {
                for triangle in &self.triangles[node.first as usize..][..node.count as usize] {
                    if let Some(hit) = meet(triangle, origin, direction)
                        && nearest.is_none_or(|n| hit.distance < n.distance)
                    {
                        nearest = Some(hit);
                    }
                }
            } else if waiting + 2 <= DEPTH {
                stack[waiting] = node.first;
                stack[waiting + 1] = at as u32 + 1;
                waiting += 2;
            }
        }
        nearest
    }
}

/// Builds the node over `triangles`, the slice that starts at `from` of all, and all nodes below it.
fn split(triangles: &mut [Triangle], from: u32, nodes: &mut Vec<Node>) {
    let (mut low, mut high) = (vec3(f32::MAX, f32::MAX, f32::MAX), vec3(f32::MIN, f32::MIN, f32::MIN));
    for corner in triangles.iter().flat_map(|t| t.corners) {
        low = vec3(low.x.min(corner.x), low.y.min(corner.y), low.z.min(corner.z));
        high = vec3(high.x.max(corner.x), high.y.max(corner.y), high.z.max(corner.z));
    }
    let at = nodes.len();
    nodes.push(Node { low, high, first: from, count: triangles.len() as u32 });
    if triangles.len() <= LEAF {
        return;
    }
    let size = high - low;
    let along = |t: &Triangle| {
        let sum = t.corners[0] + t.corners[1] + t.corners[2];
        if size.x >= size.y && size.x >= size.z {
            sum.x
        } else if size.y >= size.z {
            sum.y
        } else {
            sum.z
        }
    };
    let middle = triangles.len() / 2;
    triangles.select_nth_unstable_by(middle, |a, b| along(a).total_cmp(&along(b)));
    let (left, right) = triangles.split_at_mut(middle);
    split(left, from, nodes);
    nodes[at] = Node { low, high, first: nodes.len() as u32, count: 0 };
    split(right, from + middle as u32, nodes);
}

fn meets(node: &Node, origin: Vec3, inverse: Vec3, nearest: f32) -> bool {
    let (mut enter, mut leave) = (f32::NEG_INFINITY, nearest);
    for (low, high, from, by) in [
        (node.low.x, node.high.x, origin.x, inverse.x),
        (node.low.y, node.high.y, origin.y, inverse.y),
        (node.low.z, node.high.z, origin.z, inverse.z),
    ] {
        // A look along a face of the box gives 0 · ∞, which `min` and `max` pass over.
        let (a, b) = ((low - from) * by, (high - from) * by);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    leave >= enter
}

/// T. Möller and B. Trumbore, "Fast, minimum storage ray/triangle intersection", Journal of Graphics Tools 2(1), 1997.
fn meet(triangle: &Triangle, origin: Vec3, direction: Vec3) -> Option<Hit> {
    let [a, b, c] = triangle.corners;
    let (ab, ac) = (b - a, c - a);
    let across = direction.cross(ac);
    let size = ab.dot(across);
    if size == 0.0 {
        return None;
    }
    let from = origin - a;
    let u = from.dot(across) / size;
    let turned = from.cross(ab);
    let v = direction.dot(turned) / size;
    // Neighbours share an edge; a little over it is better than a miss between them.
    const OVER: f32 = 1e-5;
    if u < -OVER || v < -OVER || u + v > 1.0 + OVER {
        return None;
    }
    Some(Hit { distance: ac.dot(turned) / size, owner: triangle.owner, outside: size > 0.0 })
}
