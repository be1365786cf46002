// Where blocks lie and how near they come to one another: exact for polygons, in millimetres. The
// server checks again with shapely before anything is saved.

// As on the server: positions are compared within this.
export const TOLERANCE = 0.01;

export function placed(outline, [x, y, turn], mirrored) {
  const angle = (turn * Math.PI) / 180;
  const [cosine, sine] = turn % 90 ? [Math.cos(angle), Math.sin(angle)] : quarter(turn);
  const flip = mirrored ? -1 : 1;
  return outline.map(([px, py]) => [
    px * cosine - flip * py * sine + x,
    px * sine + flip * py * cosine + y,
  ]);
}

// Free of the rounding of cos(90°).
function quarter(turn) {
  return [[1, 0], [0, 1], [-1, 0], [0, -1]][(((turn / 90) % 4) + 4) % 4];
}

// A ring with its bounds and with points that tell whether it lies inside another one.
export function body(ring) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of ring) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  const middles = ring.map((point, at) => {
    const next = ring[(at + 1) % ring.length];
    return [(point[0] + next[0]) / 2, (point[1] + next[1]) / 2];
  });
  return { ring, box, probes: [...ring, ...middles, innerPoint(ring, box)] };
}

// The middle of the longest stretch inside the ring on a level line through it.
function innerPoint(ring, box) {
  const y = box[1] + (box[3] - box[1]) * 0.4871;
  const crossings = [];
  edges(ring, (a, b) => {
    if (a[1] <= y !== b[1] <= y) crossings.push(atLevel(a, b, y));
  });
  crossings.sort((one, other) => one - other);
  let best = [box[0], box[0]];
  for (let at = 0; at + 1 < crossings.length; at += 2) {
    if (crossings[at + 1] - crossings[at] > best[1] - best[0]) best = crossings.slice(at, at + 2);
  }
  return [(best[0] + best[1]) / 2, y];
}

// Where the edge from a to b crosses the level y.
const atLevel = (a, b, y) => a[0] + ((y - a[1]) * (b[0] - a[0])) / (b[1] - a[1]);

function edges(ring, visit) {
  for (let at = 0; at < ring.length; at += 1) visit(ring[at], ring[(at + 1) % ring.length]);
}

// "overlap", "near" (nearer than the gap) or "".
export function meeting(one, other, gap) {
  const [a, b] = [one.box, other.box];
  const reach = Math.max(gap, TOLERANCE);
  if (a[0] > b[2] + reach || b[0] > a[2] + reach || a[1] > b[3] + reach || b[1] > a[3] + reach) {
    return "";
  }
  if (crossing(one, other) || reachesInto(one, other) || reachesInto(other, one)) return "overlap";
  return gap > TOLERANCE && distance(one, other, gap) < gap - TOLERANCE ? "near" : "";
}

function crossing(one, other) {
  let found = false;
  edgesNear(one, other.box, 0, (a, b) => {
    edgesNear(other, one.box, 0, (c, d) => {
      found ||= cross(a, b, c, d);
    });
  });
  return found;
}

function edgesNear({ ring }, box, reach, visit) {
  edges(ring, (a, b) => {
    if (
      Math.max(a[0], b[0]) >= box[0] - reach && Math.min(a[0], b[0]) <= box[2] + reach &&
      Math.max(a[1], b[1]) >= box[1] - reach && Math.min(a[1], b[1]) <= box[3] + reach
    ) visit(a, b);
  });
}

// Whether two edges cross, each going beyond the other by more than the tolerance.
function cross(a, b, c, d) {
  const [toC, toD] = [aside(a, b, c), aside(a, b, d)];
  if (!opposite(toC, toD)) return false;
  return opposite(aside(c, d, a), aside(c, d, b));
}

const opposite = (one, other) =>
  (one > TOLERANCE && other < -TOLERANCE) || (one < -TOLERANCE && other > TOLERANCE);

// How far the point lies to the left of the line from a to b.
function aside(a, b, point) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  return (dx * (point[1] - a[1]) - dy * (point[0] - a[0])) / (Math.hypot(dx, dy) || 1);
}

function reachesInto(one, { ring, box }) {
  return one.probes.some(
    (point) =>
      point[0] > box[0] && point[0] < box[2] && point[1] > box[1] && point[1] < box[3] &&
      inside(point, ring) && toEdges(point, ring) > TOLERANCE,
  );
}

function inside([x, y], ring) {
  let found = false;
  edges(ring, (a, b) => {
    if (a[1] <= y !== b[1] <= y && x < atLevel(a, b, y)) found = !found;
  });
  return found;
}

function toEdges(point, ring) {
  let least = Infinity;
  edges(ring, (a, b) => {
    least = Math.min(least, toEdge(point, a, b));
  });
  return least;
}

function toEdge([x, y], a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const along = ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy || 1);
  const at = Math.min(1, Math.max(0, along));
  return Math.hypot(x - a[0] - at * dx, y - a[1] - at * dy);
}

// The least distance of two rings that do not cross; Infinity when it is surely beyond the reach.
export function distance(one, other, reach = Infinity) {
  let least = Infinity;
  for (const [from, to] of [[one, other], [other, one]]) {
    const box = to.box;
    const points = from.ring.filter(
      ([x, y]) =>
        x >= box[0] - reach && x <= box[2] + reach && y >= box[1] - reach && y <= box[3] + reach,
    );
    if (!points.length) continue;
    edgesNear(to, from.box, reach, (a, b) => {
      for (const point of points) least = Math.min(least, toEdge(point, a, b));
    });
  }
  return least;
}
