"use strict";
// Turns the model of a report by hand. A small rasteriser of its own on a plain 2D canvas: it
// needs no library, no graphics card and no network. Opaque surfaces fill a depth buffer;
// see-through ones are then blended without sorting (weighted blended order-independent
// transparency, McGuire and Bavoil, Journal of Computer Graphics Techniques 2(2), 2013).
(() => {
  const stage = document.getElementById("turntable");
  const canvas = stage.querySelector("canvas");
  const pen = canvas.getContext("2d");
  const model = JSON.parse(document.getElementById("turntable-model").textContent);

  const TURN = 0.008; // radians a pixel of dragging
  const STEP = Math.PI / 12; // a press of a key or a button
  const FINE = 2; // the picture at rest has this many dots a pixel along each side
  const PLAY = 2500; // milliseconds of the fragments' path
  const REST = 140; // milliseconds without a move, then the picture is drawn finely
  const hidden = new Set();

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [
    a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0],
  ];
  const unit = (a) => a.map((v) => v / Math.hypot(...a));
  const mix = (a, s, b, t) => a.map((v, i) => s * v + t * b[i]);

  const meshes = model.meshes.map((mesh) => {
    const raw = new Uint16Array(bytes(mesh.points));
    return {
      ...mesh,
      points: Float32Array.from(raw, (v, i) => mesh.low[i % 3] + v * mesh.step[i % 3]),
      normals: new Int8Array(bytes(mesh.normals)),
      faces: new (mesh.wide ? Uint32Array : Uint16Array)(bytes(mesh.faces)),
      tints: mesh.tints && new Uint8Array(bytes(mesh.tints)), // a colour of each triangle
    };
  });
  meshes.forEach((mesh) => { mesh.home = mesh.points; });
  const opaque = meshes.filter((mesh) => mesh.opacity >= 1);
  const clear = meshes.filter((mesh) => mesh.opacity < 1);

  let eye; // toward, up, right: unit vectors; centre, half: what the shorter side shows
  const look = (view, span) => {
    const toward = unit(view.toward);
    const right = unit(cross(view.up, toward));
    eye = { toward, right, up: cross(toward, right), centre: [...span.centre], half: span.half };
  };
  look(model.views[0], model);

  // ---- fragments on their path from reduced (0) to as they lie (1) ----
  let lying = 0;
  const moved = (home, path, share) => {
    const out = new Float32Array(home.length);
    const [x, y, z] = path.axis, c = Math.cos(share * path.angle), s = Math.sin(share * path.angle);
    const t = 1 - c;
    const rows = [ // Rodrigues' formula
      [t * x * x + c, t * x * y - s * z, t * x * z + s * y],
      [t * x * y + s * z, t * y * y + c, t * y * z - s * x],
      [t * x * z - s * y, t * y * z + s * x, t * z * z + c],
    ];
    for (let i = 0; i < home.length; i += 3) {
      const d = [home[i] - path.centre[0], home[i + 1] - path.centre[1], home[i + 2] - path.centre[2]];
      for (let k = 0; k < 3; k++) out[i + k] = dot(rows[k], d) + path.centre[k] + share * path.shift[k];
    }
    return out;
  };
  const lie = (share) => {
    lying = share;
    for (const mesh of meshes) {
      if (mesh.path) mesh.points = share ? moved(mesh.home, mesh.path, share) : mesh.home;
    }
    stage.querySelectorAll("[data-lie]").forEach((slide) => { slide.value = String(100 * share); });
    canvas.dataset.lying = String(share);
  };

  // ---- raster ----
  let wide = 0, high = 0, depth, light, thin, weight, left;

  const resize = (dots) => {
    const box = canvas.getBoundingClientRect();
    const w = Math.max(1, Math.round(box.width * dots));
    const h = Math.max(1, Math.round(box.height * dots));
    if (w !== wide || h !== high) {
      canvas.width = wide = w;
      canvas.height = high = h;
      depth = new Float32Array(w * h);
      light = new Float32Array(3 * w * h);
      thin = new Float32Array(3 * w * h);
      weight = new Float32Array(w * h);
      left = new Float32Array(w * h);
    }
    depth.fill(-Infinity);
    light.fill(255);
    thin.fill(0);
    weight.fill(0);
    left.fill(1);
  };

  const scaled = () => Math.min(wide, high) / 2 / eye.half; // pixels a mm

  const project = (p) => {
    const d = [p[0] - eye.centre[0], p[1] - eye.centre[1], p[2] - eye.centre[2]];
    const scale = scaled();
    return [wide / 2 + dot(d, eye.right) * scale, high / 2 - dot(d, eye.up) * scale, dot(d, eye.toward)];
  };

  const fill = (mesh, paint) => {
    const { points, normals, faces } = mesh;
    const count = points.length / 3;
    const place = new Float32Array(3 * count);
    const facing = new Float32Array(count); // cosine between the normal and the line of sight
    const { right: r, up: u, toward: t, centre: c } = eye;
    const scale = scaled();
    for (let i = 0, j = 0; i < count; i++, j += 3) {
      const x = points[j] - c[0], y = points[j + 1] - c[1], z = points[j + 2] - c[2];
      place[j] = wide / 2 + (x * r[0] + y * r[1] + z * r[2]) * scale;
      place[j + 1] = high / 2 - (x * u[0] + y * u[1] + z * u[2]) * scale;
      place[j + 2] = x * t[0] + y * t[1] + z * t[2];
      facing[i] = Math.abs(normals[j] * t[0] + normals[j + 1] * t[1] + normals[j + 2] * t[2]) / 127;
    }
    for (let f = 0; f < faces.length; f += 3) {
      triangle(place, facing, faces, f, paint);
    }
  };

  const triangle = (place, facing, faces, f, paint) => {
    const a = faces[f], b = faces[f + 1], c = faces[f + 2];
    const ax = place[3 * a], ay = place[3 * a + 1], bx = place[3 * b], by = place[3 * b + 1];
    const cx = place[3 * c], cy = place[3 * c + 1];
    const area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
    if (area === 0) return;
    const x0 = Math.max(0, Math.ceil(Math.min(ax, bx, cx) - 0.5));
    const x1 = Math.min(wide - 1, Math.floor(Math.max(ax, bx, cx) - 0.5));
    const y0 = Math.max(0, Math.ceil(Math.min(ay, by, cy) - 0.5));
    const y1 = Math.min(high - 1, Math.floor(Math.max(ay, by, cy) - 0.5));
    const az = place[3 * a + 2], bz = place[3 * b + 2], cz = place[3 * c + 2];
    const stepB = (cy - ay) / area, stepC = -(by - ay) / area; // of the weights along a row
    for (let y = y0; y <= y1; y++) {
      const py = y + 0.5 - ay, px = x0 + 0.5 - ax;
      let wb = (px * (cy - ay) - py * (cx - ax)) / area;
      let wc = (py * (bx - ax) - px * (by - ay)) / area;
      for (let x = x0, i = y * wide + x0; x <= x1; x++, i++, wb += stepB, wc += stepC) {
        if (wb < 0 || wc < 0 || wb + wc > 1) continue;
        const wa = 1 - wb - wc;
        paint(i, wa * az + wb * bz + wc * cz, wa * facing[a] + wb * facing[b] + wc * facing[c], f);
      }
    }
  };

  const solid = (mesh) => {
    const [r, g, b] = mesh.colour;
    fill(mesh, (i, z, face, f) => {
      if (z <= depth[i]) return;
      depth[i] = z;
      if (mesh.tints) { // not shaded: the colours are those of the key
        light.set(mesh.tints.subarray(f, f + 3), 3 * i);
        return;
      }
      const shade = 0.38 + 0.62 * face, shine = 50 * face ** 24;
      light[3 * i] = r * shade + shine;
      light[3 * i + 1] = g * shade + shine;
      light[3 * i + 2] = b * shade + shine;
    });
  };

  const glass = (mesh) => {
    const [r, g, b] = mesh.colour;
    fill(mesh, (i, z, face) => {
      if (z <= depth[i]) return;
      const rim = (1 - face) ** 3; // seen along its surface, a shell looks denser
      const alpha = Math.min(0.95, mesh.opacity * (1.2 + 2.4 * rim));
      const shade = alpha * (0.5 + 0.5 * face);
      thin[3 * i] += r * shade;
      thin[3 * i + 1] += g * shade;
      thin[3 * i + 2] += b * shade;
      weight[i] += alpha;
      left[i] *= 1 - alpha;
    });
  };

  const stroke = (line, size) => {
    const [r, g, b] = line.colour;
    let from = null;
    for (const point of line.points) {
      const to = project(point);
      const steps = from ? Math.ceil(Math.hypot(to[0] - from[0], to[1] - from[1])) : 0;
      for (let s = 0; s <= steps && from; s++) {
        const t = steps ? s / steps : 0;
        const cx = Math.round(from[0] + t * (to[0] - from[0]) - size / 2);
        const cy = Math.round(from[1] + t * (to[1] - from[1]) - size / 2);
        const z = from[2] + t * (to[2] - from[2]) + 0.2; // 0.2 mm in front of what it lies on
        for (let y = Math.max(0, cy); y < Math.min(high, cy + size); y++) {
          for (let x = Math.max(0, cx); x < Math.min(wide, cx + size); x++) {
            const i = y * wide + x;
            if (z <= depth[i]) continue;
            depth[i] = z;
            light.set([r, g, b], 3 * i);
          }
        }
      }
      from = to;
    }
  };

  const resolve = () => {
    const image = pen.createImageData(wide, high);
    for (let i = 0; i < wide * high; i++) {
      for (let k = 0; k < 3; k++) {
        const over = weight[i] ? thin[3 * i + k] / weight[i] : 0;
        image.data[4 * i + k] = left[i] * light[3 * i + k] + (1 - left[i]) * over;
      }
      image.data[4 * i + 3] = 255;
    }
    pen.putImageData(image, 0, 0);
  };

  // ---- words over the picture ----
  const font = (dots) => `600 ${15 * dots}px sans-serif`;
  const fitting = (text, room, dots) => { // the id alone where the rest would be cut off
    pen.font = font(dots);
    return pen.measureText(text).width + 18 * dots < room ? text : text.split("  ")[0];
  };
  const write = (text, x, y, dots, align) => {
    pen.font = font(dots);
    pen.textAlign = align;
    pen.textBaseline = "middle";
    pen.lineWidth = 4 * dots;
    pen.strokeStyle = "#ffffff";
    pen.fillStyle = "#111111";
    pen.strokeText(text, x, y);
    pen.fillText(text, x, y);
  };
  const rule = (dots, thin, ...points) => {
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.lineWidth = (thin ? 1 : 2.5) * dots;
    pen.strokeStyle = thin ? "#8a8a8a" : "#111111";
    pen.stroke();
  };
  const words = (dots) => {
    const used = [];
    for (const label of lying ? [] : model.labels) {
      const [x, head] = project(label.at);
      const outward = x < project(label.from)[0] ? -1 : 1; // on the head's side of the shank
      let y = head;
      while (used.some((other) => Math.abs(other - y) < 18 * dots)) y += 18 * dots;
      used.push(y);
      const text = fitting(label.text, outward < 0 ? x : wide - x, dots);
      const width = pen.measureText(text).width + 2 * dots;
      const beside = x + 16 * outward * dots; // moved in where the edge would cut the name off
      const within = outward < 0 ? Math.max(beside, width) : Math.min(beside, wide - width);
      const seen = x >= 0 && x <= wide;
      write(text, seen ? within : beside, y, dots, outward < 0 ? "right" : "left");
    }
    const scale = scaled();
    const lengths = [1, 2, 5, 10, 20, 50, 100, 200].filter((v) => v * scale < wide / 4);
    const bar = lengths.length ? lengths[lengths.length - 1] : 1;
    const x = 16 * dots, y = high - 18 * dots;
    rule(dots, false, [x, y - 6 * dots], [x, y], [x + bar * scale, y], [x + bar * scale, y - 6 * dots]);
    write(`${bar} mm`, x + (bar * scale) / 2, y - 16 * dots, dots, "center");
    compass(dots);
    write(model.side, wide - 12 * dots, 16 * dots, dots, "right");
  };

  // Which way the model is looked at: arms towards the reader thick, arms away thin and grey.
  const compass = (dots) => {
    const size = 34 * dots, line = 17 * dots, used = [], ways = [];
    pen.font = font(dots);
    const longest = Math.max(...model.axes.map((axis) => pen.measureText(axis.word).width));
    const foot = [wide - 14 * dots - longest - 1.4 * size, high - 2.6 * line - 1.4 * size];
    const arms = model.axes.map((axis) => ({
      word: axis.word, x: dot(axis.way, eye.right), y: -dot(axis.way, eye.up), z: dot(axis.way, eye.toward),
    }));
    arms.sort((a, b) => Math.hypot(b.x, b.y) - Math.hypot(a.x, a.y));
    for (const arm of arms) {
      const flat = Math.hypot(arm.x, arm.y);
      if (flat < 0.42) continue; // points at the reader, or straight away
      const out = [arm.x / flat, arm.y / flat];
      if (ways.some((o) => o[0] * out[0] + o[1] * out[1] > 0.9)) continue; // a longer arm lies there
      ways.push(out);
      const width = pen.measureText(arm.word).width;
      const align = Math.abs(out[0]) < 0.5 ? "center" : out[0] > 0 ? "left" : "right";
      const back = { left: 0, center: width / 2, right: width }[align];
      for (let reach = flat * size + 9 * dots, tries = 0; tries < 9; tries++, reach += line / 2) {
        const [x, y] = [foot[0] + reach * out[0], foot[1] + reach * out[1]];
        const box = [x - back, y - line / 2, x - back + width, y + line / 2];
        if (used.some((o) => box[0] < o[2] && o[0] < box[2] && box[1] < o[3] && o[1] < box[3])) continue;
        used.push(box);
        const end = [foot[0] + arm.x * size, foot[1] + arm.y * size];
        rule(dots, arm.z < -0.05, foot, end);
        write(arm.word, x, y, dots, align);
        break;
      }
    }
    const nearest = arms.reduce((a, b) => (b.z > a.z ? b : a));
    if (nearest.z > 0.9) {
      write(`towards you: ${nearest.word}`, wide - 12 * dots, high - 12 * dots, dots, "right");
    }
  };

  const draw = (dots) => {
    resize(dots);
    // screws belong to the reduced bone: off it there are fragments alone
    const shown = (part) => !hidden.has(part.layer) && (!lying || part.path);
    opaque.filter(shown).forEach(solid);
    model.lines.filter(shown).forEach((line) => stroke(line, Math.max(1, Math.round(1.5 * dots))));
    clear.filter(shown).forEach(glass);
    resolve();
    words(dots);
  };

  // ---- moving ----
  let waiting = false, rest = 0;
  const refresh = () => {
    clearTimeout(rest);
    canvas.dataset.state = "moving";
    rest = setTimeout(() => {
      draw(FINE);
      canvas.dataset.state = "still";
    }, REST);
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      draw(1);
    });
  };
  const turn = (across, over) => {
    const toward = mix(eye.toward, Math.cos(across), eye.right, -Math.sin(across));
    const right = cross(eye.up, toward);
    const up = unit(mix(eye.up, Math.cos(over), toward, -Math.sin(over)));
    eye = { ...eye, right: unit(right), up, toward: unit(cross(right, up)) };
    refresh();
  };
  const zoom = (factor) => {
    eye.half = Math.min(Math.max(eye.half * factor, 2), 4 * model.whole.half);
    refresh();
  };

  let play = 0;
  const stopped = () => { cancelAnimationFrame(play); play = 0; };
  const playing = () => {
    stopped();
    if (window.matchMedia("(prefers-reduced-motion: reduce)").matches) { // no moving pictures
      lie(lying ? 0 : 1);
      refresh();
      return;
    }
    let begun = 0;
    const go = (now) => {
      begun = begun || now;
      const share = Math.min((now - begun) / PLAY, 1);
      lie(1 - share * share * (3 - 2 * share)); // starts and ends gently
      refresh();
      play = share < 1 ? requestAnimationFrame(go) : 0;
    };
    play = requestAnimationFrame(go);
  };

  let spin = 0;
  const spinning = (on) => {
    cancelAnimationFrame(spin);
    spin = 0;
    const go = () => {
      turn(0.02, 0);
      spin = requestAnimationFrame(go);
    };
    if (on) spin = requestAnimationFrame(go);
    stage.querySelector('[data-act="spin"]').setAttribute("aria-pressed", String(on));
  };
  const acts = {
    left: () => turn(-STEP, 0),
    right: () => turn(STEP, 0),
    up: () => turn(0, -STEP),
    down: () => turn(0, STEP),
    nearer: () => zoom(0.8),
    farther: () => zoom(1.25),
    whole: () => { Object.assign(eye, { centre: [...model.whole.centre], half: model.whole.half }); refresh(); },
    reset: () => { look(model.views[0], model); refresh(); },
    spin: () => spinning(!spin),
    reduce: playing,
  };
  const KEYS = {
    ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
    "+": "nearer", "-": "farther", Home: "reset",
  };

  stage.querySelectorAll("[data-act]").forEach((button) => {
    button.addEventListener("click", () => {
      if (button.dataset.act !== "spin") spinning(false);
      if (button.dataset.act !== "reduce") stopped();
      acts[button.dataset.act]();
    });
  });
  stage.querySelectorAll("[data-view]").forEach((button) => {
    button.addEventListener("click", () => {
      spinning(false);
      look(model.views[Number(button.dataset.view)], { centre: eye.centre, half: eye.half });
      refresh();
    });
  });
  stage.querySelectorAll("[data-layer]").forEach((box) => {
    box.addEventListener("change", () => {
      if (box.checked) hidden.delete(box.dataset.layer);
      else hidden.add(box.dataset.layer);
      refresh();
    });
  });
  stage.querySelectorAll("[data-lie]").forEach((slide) => {
    slide.addEventListener("input", () => {
      stopped();
      lie(Number(slide.value) / 100);
      refresh();
    });
  });
  canvas.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act) return;
    event.preventDefault();
    spinning(false);
    acts[act]();
  });
  canvas.addEventListener("pointerdown", (event) => {
    spinning(false);
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (canvas.hasPointerCapture(event.pointerId)) turn(event.movementX * TURN, event.movementY * TURN);
  });
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== canvas) return; // a page must scroll on
    event.preventDefault();
    zoom(Math.exp(event.deltaY * 0.001));
  }, { passive: false });
  window.addEventListener("resize", refresh);

  stage.classList.add("live"); // from here on the moving picture stands in for the still one
  refresh();
})();
