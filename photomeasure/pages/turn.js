// A path in space that is turned with a finger, a mouse or the arrow keys.
export default function ({ parentElement, data }) {
  const root = parentElement.querySelector(".turn");
  const canvas = root.querySelector("canvas");
  if (root.dataset.id !== data.id) {
    root.dataset.id = data.id;
    root.at = { yaw: 0, pitch: -0.7, held: null };
    root.querySelector(".reset").textContent = data.words.reset;
  }
  const at = root.at;
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", data.keys);

  function seen([x, y, z]) {
    const [cy, sy] = [Math.cos(at.yaw), Math.sin(at.yaw)];
    const [cp, sp] = [Math.cos(at.pitch), Math.sin(at.pitch)];
    const [u, v] = [cy * x - sy * y, sy * x + cy * y];
    return [u, cp * v - sp * z, sp * v + cp * z];
  }

  function draw() {
    const box = canvas.getBoundingClientRect();
    const sharp = window.devicePixelRatio || 1;
    canvas.width = Math.max(1, Math.round(box.width * sharp));
    canvas.height = Math.max(1, Math.round(box.height * sharp));
    const pen = canvas.getContext("2d");
    pen.scale(sharp, sharp);
    const scale = (0.44 * Math.min(box.width, 1.5 * box.height)) / data.reach;
    const place = (point) => {
      const [x, y] = seen(point);
      return [box.width / 2 + scale * x, box.height / 2 - scale * y];
    };
    const run = (points, colour, width) => {
      pen.beginPath();
      points.forEach((point, k) => pen[k ? "lineTo" : "moveTo"](...place(point)));
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.lineJoin = pen.lineCap = "round";
      pen.stroke();
    };
    for (const line of data.floor) run(line, "#dbe4e2", 1);
    run(data.points.map(([x, y]) => [x, y, data.low]), "#b7c4c1", 4);
    for (const point of data.feet) run([point, [point[0], point[1], data.low]], "#b7c4c1", 1);
    run(data.points, "#7a3b00", Math.max(3, scale * data.thick + 2));
    run(data.points, "#e07b1a", Math.max(2, scale * data.thick));
    for (const one of data.near) run(one.between, "#0b5563", 3);
    pen.font = "15px sans-serif";
    for (const one of data.labels) {
      const [x, y] = place(one.at);
      pen.lineWidth = 4;
      pen.strokeStyle = "#ffffff";
      const side = x > 0.6 * box.width ? -1 : 1;
      pen.textAlign = side < 0 ? "right" : "left";
      pen.strokeText(one.text, x + 8 * side, y - 8);
      pen.fillStyle = "#14211f";
      pen.fillText(one.text, x + 8 * side, y - 8);
      pen.beginPath();
      pen.arc(x, y, 4, 0, 7);
      pen.fill();
    }
  }

  function turn(right, up) {
    at.yaw += right;
    at.pitch = Math.min(0, Math.max(-Math.PI, at.pitch + up));
    draw();
  }

  canvas.onpointerdown = (event) => {
    at.held = [event.clientX, event.clientY];
    canvas.setPointerCapture(event.pointerId);
  };
  canvas.onpointermove = (event) => {
    if (!at.held) return;
    turn((event.clientX - at.held[0]) * 0.01, (event.clientY - at.held[1]) * -0.01);
    at.held = [event.clientX, event.clientY];
  };
  canvas.onpointerup = canvas.onpointercancel = () => (at.held = null);
  canvas.onkeydown = (event) => {
    const steps = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.15],
                    ArrowDown: [0, -0.15] };
    if (!(event.key in steps)) return;
    event.preventDefault();
    turn(...steps[event.key]);
  };
  root.querySelector(".reset").onclick = () => {
    Object.assign(at, { yaw: 0, pitch: -0.7 });
    draw();
  };
  root.sight?.disconnect();
  root.sight = new ResizeObserver(draw);
  root.sight.observe(canvas);
  draw();
}
