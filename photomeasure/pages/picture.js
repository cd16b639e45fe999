// A picture that can be enlarged, moved and marked with fingers or a mouse.
export default function ({ parentElement, data, setTriggerValue }) {
  const root = parentElement.querySelector(".pic");
  const stage = root.querySelector(".stage");
  const sheet = root.querySelector(".sheet");
  const image = root.querySelector("img");
  const drawn = root.querySelector("svg");
  const fresh = root.dataset.id !== data.id;
  if (fresh) {
    root.dataset.id = data.id;
    image.src = data.src;
    image.alt = data.alt;
    if (data.is_answer) document.querySelector('[data-testid="stMain"]')?.scrollTo({ top: 0 });
    root.at = { zoom: 1, x: 0, y: 0, marks: [], fingers: new Map(), held: -1, moved: 0,
                cross: null, given: "", own: true };
    for (const name in data.words) root.querySelector(`.${name}`).textContent = data.words[name];
  }
  const at = root.at;
  const given = JSON.stringify(data.at);
  if (at.given !== given) {
    at.given = given;
    at.marks = JSON.parse(given);
    at.own = data.own;
  }
  root.querySelector(".marking").hidden = !data.marks;
  stage.tabIndex = 0;
  stage.setAttribute("role", "group");
  stage.setAttribute("aria-label", data.keys);

  function place() {
    const box = stage.getBoundingClientRect();
    at.x = Math.min(0, Math.max(box.width * (1 - at.zoom), at.x));
    at.y = Math.min(0, Math.max(box.height * (1 - at.zoom), at.y));
    sheet.style.transform = `translate(${at.x}px, ${at.y}px) scale(${at.zoom})`;
    stage.style.touchAction = at.zoom > 1 ? "none" : "pan-y";
    draw();
  }

  function draw() {
    const box = stage.getBoundingClientRect();
    const [wide, high] = [box.width || 1, box.height || 1];
    drawn.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    const points = (list) => list.map(([x, y]) => `${x * wide},${y * high}`).join(" ");
    const thin = 1 / at.zoom;
    const line = (list, colour, width, dash) => list.length < 2 ? "" :
      `<polyline points="${points(list)}" fill="none" stroke="${colour}" ` +
      `stroke-width="${width * thin}" stroke-dasharray="${dash}"/>`;
    const dots = at.marks.map(([x, y], n) =>
      `<circle cx="${x * wide}" cy="${y * high}" r="${11 * thin}" fill="#ffffffcc" ` +
      `stroke="#0b5563" stroke-width="${3 * thin}"/><text x="${x * wide}" ` +
      `y="${y * high + 5 * thin}" font-size="${14 * thin}" text-anchor="middle">${n + 1}</text>`);
    const [cx, cy] = at.cross ? [at.cross[0] * wide, at.cross[1] * high] : [0, 0];
    const cross = !at.cross ? "" : `<path d="M${cx - 16 * thin} ${cy}h${32 * thin}M${cx} ` +
      `${cy - 16 * thin}v${32 * thin}" stroke="#c2410c" stroke-width="${3 * thin}"/>`;
    const tied = at.own || !(data.line || []).length;  // the program's line is drawn already
    drawn.innerHTML = line(data.line || [], "#ffffff", 5, "") +
      line(data.line || [], "#c2410c", 3, "") +
      (tied ? line(at.marks, "#0b5563", 2, `${6 * thin}`) : "") + dots.join("") + cross;
    root.querySelector(".again").disabled = at.marks.length < Math.max(1, data.marks);
    root.querySelector(".back").disabled = at.marks.length < 1;
  }

  function enlarge(factor, cx, cy) {
    const box = stage.getBoundingClientRect();
    const [px, py] = [cx ?? box.width / 2, cy ?? box.height / 2];
    const zoom = Math.min(8, Math.max(1, at.zoom * factor));
    at.x = px - ((px - at.x) * zoom) / at.zoom;
    at.y = py - ((py - at.y) * zoom) / at.zoom;
    at.zoom = zoom;
    place();
  }

  function share(event) {
    const box = stage.getBoundingClientRect();
    return [(event.clientX - box.left - at.x) / at.zoom / box.width,
            (event.clientY - box.top - at.y) / at.zoom / box.height];
  }

  function nearest(event) {
    const box = stage.getBoundingClientRect();
    return at.marks.findIndex(([x, y]) => Math.hypot(
      x * box.width * at.zoom + at.x + box.left - event.clientX,
      y * box.height * at.zoom + at.y + box.top - event.clientY) < 26);
  }

  // a finger on a mark moves it and not the page
  stage.ontouchstart = (event) => {
    if (data.marks && event.touches.length === 1 && nearest(event.touches[0]) >= 0)
      event.preventDefault();
  };
  stage.onpointerdown = (event) => {
    at.fingers.set(event.pointerId, event);
    at.moved = at.fingers.size > 1 ? 99 : 0;
    at.held = data.marks && at.fingers.size === 1 ? nearest(event) : -1;
    if (at.held >= 0) stage.setPointerCapture(event.pointerId);
  };
  stage.onpointermove = (event) => {
    const before = at.fingers.get(event.pointerId);
    if (!before) return;
    const [dx, dy] = [event.clientX - before.clientX, event.clientY - before.clientY];
    at.moved += Math.hypot(dx, dy);
    if (at.held >= 0) {
      at.marks[at.held] = share(event);
      draw();
    } else if (at.fingers.size === 2) {
      const other = [...at.fingers].find(([id]) => id !== event.pointerId)[1];
      const apart = (one) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
      const box = stage.getBoundingClientRect();
      enlarge(apart(event) / Math.max(1, apart(before)), other.clientX - box.left,
              other.clientY - box.top);
    } else if (at.zoom > 1) {
      at.x += dx;
      at.y += dy;
      place();
    }
    at.fingers.set(event.pointerId, event);
  };
  stage.onpointerup = (event) => {
    at.fingers.delete(event.pointerId);
    const isTap = at.moved < 8 && (at.held < 0 || !at.own);
    if (data.marks && isTap) add(share(event));
    else if (at.held >= 0) at.own = true;
    at.held = -1;
  };
  stage.onpointercancel = (event) => { at.fingers.delete(event.pointerId); at.held = -1; };
  stage.onwheel = (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const box = stage.getBoundingClientRect();
    enlarge(event.deltaY < 0 ? 1.2 : 1 / 1.2, event.clientX - box.left, event.clientY - box.top);
  };
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  function add(mark) {
    if (!at.own || at.marks.length >= data.most) at.marks = [];
    at.own = true;
    at.marks.push(mark);
    draw();
  }

  function step([right, down], isFine) {
    if (!data.marks) {
      at.x -= 40 * right;
      at.y -= 40 * down;
      place();
      return;
    }
    const far = (isFine ? 0.002 : 0.02) / at.zoom;
    const [x, y] = at.cross || [0.5, 0.5];
    at.cross = [Math.min(1, Math.max(0, x + far * right)), Math.min(1, Math.max(0, y + far * down))];
    draw();
  }

  stage.onkeydown = (event) => {
    const way = ways[event.key];
    if (way) step(way, event.shiftKey);
    else if (event.key === "Enter" && data.marks && at.cross) add(at.cross);
    else if (event.key === "Backspace" && data.marks) at.marks.pop();
    else if (event.key === "+") enlarge(1.6);
    else if (event.key === "-") enlarge(1 / 1.6);
    else return;
    event.preventDefault();
    draw();
  };
  root.querySelector(".larger").onclick = () => enlarge(1.6);
  root.querySelector(".smaller").onclick = () => enlarge(1 / 1.6);
  root.querySelector(".back").onclick = () => { at.marks.pop(); draw(); };
  root.querySelector(".again").onclick = () => setTriggerValue("marks", at.marks);
  image.onload = place;
  if (fresh && image.complete) place(); else draw();
}
