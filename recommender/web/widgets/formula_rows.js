// The lines of a formula to type in. A cell has a text of its own from the moment it is focused until what was
// typed in it is stored: until then nothing from elsewhere is written into it.
const STORE = "recommender-typed";
const RETRY_MS = 5000;
const ORPHAN_MS = 10000;
const AMOUNTS = ["parts", "dilution_percent"];
const LABELS = {
  material: "material", parts: "parts of", dilution_percent: "dilution in per cent of",
  solvent: "solvent of", note: "note of",
};
const SHORT_CUTS = [
  ["Enter, Shift+Enter", "store the cell, go to the line below or above"],
  ["↑ ↓", "line above or below, in every cell but the material"],
  ["Esc", "put back what is stored"],
  ["← → on the handle", "amount 2 % less or more; with Shift 10 %"],
  ["Ctrl+Z, Ctrl+Shift+Z", "undo, do again"],
  ["Ctrl+Enter", "details of the line"],
  ["Ctrl+Space", "choose the line, to group it with others"],
  ["Alt+↑, Alt+↓", "move the line"],
  ["Ctrl+Delete", "take the line out"],
  ["?", "this list (outside a field)"],
];
const TAB = (() => {
  let name = sessionStorage.getItem(STORE);
  if (!name) sessionStorage.setItem(STORE, (name = Math.random().toString(36).slice(2)));
  return name;
})();

function figure(value) {
  return String(Number(value.toPrecision(3)));
}

export default {
  template: `
  <div class="rows" :class="{offline}">
    <div class="rows-lost" role="status" v-show="offline || unsaved.length || gone.length">
      <p v-if="offline">No connection to the program. What you type in the lines waits here and is stored when
        it is back; all else is locked.</p>
      <p v-if="unsaved.length">Not stored yet: {{ unsaved.join("; ") }}.</p>
      <p v-for="(text, n) in gone" :key="n">{{ text }}
        <button type="button" class="button small" @click="gone.splice(n, 1)">Dismiss</button></p>
    </div>
    <div class="rows-head" aria-hidden="true">
      <span></span><span>material</span><span class="right-side">parts</span><span></span>
      <span class="right-side dil">%</span><span class="right-side share">of 1000</span><span class="in-head">in</span>
    </div>
    <ol class="lines" aria-label="Lines of the formula">
      <li v-for="(row, n) in rows" :key="keyOf(row.id)" class="line" :data-line="row.id"
          :class="{out: row.out, chosen: chosen[row.id], blank: !row.stored, 'drop-here': dropAt === n,
                   dragged: dragged === row.id}"
          @keydown="rowKey($event, row)">
        <div class="one-line">
          <button v-if="row.stored" type="button" class="grip" :data-at="row.id + '/grip'"
            :aria-pressed="String(!!chosen[row.id])" :aria-label="'Line ' + (n + 1) + ', ' + called(row) + ': choose'"
            title="Click to choose, drag to move (Alt+↑, Alt+↓)"
            @pointerdown="grab($event, row)" @click="clickGrip(row)">{{ n + 1 }}</button>
          <span v-else class="grip" aria-hidden="true">+</span>
          <div class="cell material" :class="state(row, 'material')">
            <input type="text" list="names" autocomplete="off" spellcheck="false" v-bind="cell(row, 'material')"
              :title="text(row, 'material')"
              v-on="cellActs(row, 'material')">
            <span class="tags">
              <span v-if="row.accord" class="tag wide">accord</span>
              <span v-if="row.lock" class="tag">locked</span>
              <span v-if="row.mark" class="tag warn" :title="row.mark + ': ' + row.usual"><span
                aria-hidden="true">{{ row.mark.startsWith("above") ? "▲" : "▼" }}</span><span class="unseen">{{ row.mark }}</span></span>
              <span v-if="row.spare" class="tag wide" :title="row.spare">hardly missed</span>
            </span>
          </div>
          <div class="cell parts" :class="state(row, 'parts')">
            <input type="text" inputmode="decimal" autocomplete="off" v-bind="cell(row, 'parts')"
              v-on="cellActs(row, 'parts')">
          </div>
          <span class="handle" role="slider" tabindex="0" :data-at="row.id + '/handle'"
            :aria-disabled="String(!slides(row))" :aria-label="'amount of ' + called(row)"
            :aria-valuenow="amount(row) ?? 0" :aria-valuetext="text(row, 'parts') + ' parts'"
            aria-valuemin="0" title="Drag to change the amount (← →)" @pointerdown="slide($event, row)"
            @keydown="slideKey($event, row)"></span>
          <div class="cell dil" :class="state(row, 'dilution_percent')">
            <input type="text" inputmode="decimal" autocomplete="off" :placeholder="row.stored ? 'neat' : ''"
              v-bind="cell(row, 'dilution_percent')" v-on="cellActs(row, 'dilution_percent')">
          </div>
          <span class="share" :title="row.usual">{{ row.share }}</span>
          <span class="signs">
            <template v-if="row.stored">
            <button type="button" class="sign" :data-at="row.id + '/out'" :aria-pressed="String(!!row.out)"
              :aria-label="'Leave ' + called(row) + ' out for now'" title="Leave out for now"
              @click="act('flag', {ids: [row.id], flag: 'out', on: !row.out})">{{ row.out ? "☐" : "☑" }}</button>
            <button type="button" class="sign wide" :data-at="row.id + '/swap'"
              :aria-label="'What can stand for ' + called(row) + '?'" :title="'What can stand for ' + called(row) + '?'"
              @click="act('replace', {id: row.id})">⇄</button>
            <button type="button" class="sign wide" :data-at="row.id + '/remove'" :aria-label="'Take ' + called(row) + ' out'"
              :title="'Take ' + called(row) + ' out'" @click="act('remove', {ids: [row.id]})">×</button>
            <button type="button" class="sign" :data-at="row.id + '/more'" :aria-expanded="String(!!open[row.id])"
              :aria-label="'Details of ' + called(row)" title="Details (Ctrl+Enter)"
              @click="toggle(row)">{{ open[row.id] ? "▾" : "▸" }}</button>
            </template>
          </span>
        </div>
        <template v-for="column in ['material', 'parts', 'dilution_percent', 'solvent', 'note']" :key="column">
          <div v-if="edit(row, column) && edit(row, column).other !== null" class="elsewhere" role="alert">
            <span>{{ word(column) }} elsewhere: <b>{{ edit(row, column).other || "blank" }}</b>, here:
              <b>{{ edit(row, column).text || "blank" }}</b></span>
            <button type="button" class="button small" @click="take(row, column)">Take {{ edit(row, column).other || "blank" }}</button>
            <button type="button" class="button small" @click="stay(row, column)">Stay with {{ edit(row, column).text || "blank" }}</button>
          </div>
          <div v-else-if="edit(row, column) && edit(row, column).failed" class="elsewhere" role="alert">
            <span>{{ word(column) }} <b>{{ edit(row, column).text || "blank" }}</b> is not stored.</span>
            <button type="button" class="button small" @click="again(row, column)">Store it</button>
            <button type="button" class="button small" @click="put_back(row, column, true)">Drop it</button>
          </div>
        </template>
        <p v-if="row.wrong && state(row, row.wrong.column) !== 'typing'" class="wrong" role="alert">{{ row.wrong.text }}</p>
        <div v-if="row.wrong && row.wrong.near.length" class="near">
          <button v-for="name in row.wrong.near" :key="name" type="button" class="button small"
            @click="act('near', {id: row.id, column: row.wrong.column, was: row[row.wrong.column], value: name})">{{ name }}</button>
        </div>
        <div v-if="open[row.id] && row.stored" class="details" role="group" :aria-label="'Details of ' + called(row)">
          <p class="known">{{ row.known }}<template v-if="row.usual"> · {{ row.usual }}{{ row.mark ? ", here " + row.mark : "" }}</template><template
            v-if="row.shop"> · {{ row.shop }}</template><template v-if="row.spare"> · {{ row.spare }}</template></p>
          <div class="detail-cells">
            <label>dissolved in <span class="cell solvent" :class="state(row, 'solvent')"><input type="text" list="names"
              autocomplete="off" placeholder="dipropylene glycol" v-bind="cell(row, 'solvent')"
              v-on="cellActs(row, 'solvent')"></span></label>
            <label>note <span class="cell note" :class="state(row, 'note')"><input type="text" autocomplete="off"
              v-bind="cell(row, 'note')" v-on="cellActs(row, 'note')"></span></label>
          </div>
          <div class="detail-acts">
            <button type="button" class="button small" :data-at="row.id + '/lock'" :aria-pressed="String(!!row.lock)"
              @click="act('flag', {ids: [row.id], flag: 'lock', on: !row.lock})">{{ row.lock ? "Unlock the amount" : "Lock the amount" }}</button>
            <button type="button" class="button small" :data-at="row.id + '/up'" @click="move(row, -1)">Move up</button>
            <button type="button" class="button small" :data-at="row.id + '/down'" @click="move(row, 1)">Move down</button>
            <button v-if="row.accord" type="button" class="button small" @click="act('dissolve', {id: row.id})">Dissolve the accord</button>
            <button v-if="row.accord" type="button" class="button small" @click="act('open', {id: row.id})">Open the accord</button>
            <button type="button" class="button small narrow-only" :aria-label="'Find a stand-in for ' + called(row)"
              @click="act('replace', {id: row.id})">Find a stand-in</button>
            <button type="button" class="button small narrow-only" :aria-label="'Take the line ' + called(row) + ' out'"
              @click="act('remove', {ids: [row.id]})">Take out</button>
          </div>
        </div>
      </li>
    </ol>
    <div v-if="picked.length" class="picked" role="group" aria-label="Chosen lines">
      <span>{{ picked.length }} chosen</span>
      <input type="text" class="plain-field" aria-label="name of the accord" placeholder="accord" v-model="accord"
        @keydown.enter="group">
      <button type="button" class="button small" @click="group">Group into an accord</button>
      <button type="button" class="button small" @click="act('flag', {ids: picked, flag: 'out', on: true})">Leave out for now</button>
      <button type="button" class="button small" @click="act('flag', {ids: picked, flag: 'lock', on: true})">Lock</button>
      <button type="button" class="button small" @click="act('remove', {ids: picked})">Take out</button>
      <button type="button" class="button small" @click="choose_none">Choose none</button>
    </div>
    <p v-if="marks.length" class="marks-key">{{ marks.join(", ") }} its usual range</p>
    <div class="rows-acts" role="group" aria-label="All amounts">
      <span>scale to</span>
      <button type="button" class="button small" aria-label="Scale to 100 parts" @click="act('scale', {total: 100})">100</button>
      <button type="button" class="button small" aria-label="Scale to 1000 parts" @click="act('scale', {total: 1000})">1000</button>
      <label class="tick"><input type="checkbox" :checked="balance"
        @change="act('balance', {on: $event.target.checked})"><span>keep the total</span></label>
      <button type="button" class="button small" ref="help" @click="short_cuts">Short cuts (?)</button>
    </div>
    <dialog ref="dialog" class="short-cuts" aria-labelledby="short-cuts-head">
      <h2 id="short-cuts-head">Short cuts</h2>
      <dl><template v-for="[keys, what] in SHORT_CUTS" :key="keys"><dt>{{ keys }}</dt><dd>{{ what }}</dd></template></dl>
      <p>An amount may be 2.5, 2,5, 1/2, 10 g or 500 mg. A part is a gram where a unit is written.
        Lines of a spreadsheet can be pasted into any cell.</p>
      <button type="button" class="button main" @click="$refs.dialog.close()">Close</button>
    </dialog>
  </div>`,
  props: { lines: Array, answered: Number, own: Number, formula: Number, balance: Boolean },
  data() {
    return {
      edits: {}, turn: 0, local: [], sent: {}, keys: {}, made: 0, focused: "", chosen: {}, open: {}, accord: "",
      offline: false, gone: [], dragged: "", dropAt: -1, moved: false, beats: 1, seenOwn: this.own, SHORT_CUTS,
    };
  },
  computed: {
    byId() {
      return Object.fromEntries(this.lines.map((line) => [line.id, line]));
    },
    rows() {
      const stored = this.lines.map((line) => ({ ...line, stored: true }));
      const blank = { material: "", parts: "", dilution_percent: "", solvent: "", note: "", stored: false };
      return [...stored, ...this.local.filter((id) => !this.byId[id]).map((id) => ({ ...blank, id }))];
    },
    picked() {
      return this.lines.map((line) => line.id).filter((id) => this.chosen[id]);
    },
    marks() {
      const signs = { above: "▲", below: "▼" };
      return Object.keys(signs).filter((word) => this.rows.some((row) => row.mark && row.mark.startsWith(word)))
        .map((word) => `${signs[word]} ${word}`);
    },
    unsaved() {
      const found = [];
      for (const [key, edit] of Object.entries(this.edits)) {
        const [id, column] = key.split("/");
        const late = this.beats && edit.turn !== null && (this.offline || Date.now() - edit.at > 1500);
        if (edit.failed || late || (this.offline && edit.text !== edit.was)) {
          found.push(`${this.label(this.rowOf(id), column)} ${edit.text || "blank"}`);
        }
      }
      return found;
    },
  },
  watch: {
    lines: { handler: "update", deep: false },
    answered: "update",
  },
  created() {
    this.extend();
  },
  mounted() {
    this.restore();
    this.onKey = (event) => this.pageKey(event);
    document.addEventListener("keydown", this.onKey);
    this.beat = setInterval(() => this.check(), 250);
  },
  unmounted() {
    document.removeEventListener("keydown", this.onKey);
    clearInterval(this.beat);
  },
  methods: {
    // what a cell shows
    edit(row, column) {
      return this.edits[row.id + "/" + column] || null;
    },
    text(row, column) {
      const edit = this.edit(row, column);
      return edit ? edit.text : row[column] || "";
    },
    called(row) {
      return this.text(row, "material").trim() || "new line";
    },
    rowOf(id) {
      return this.rows.find((row) => row.id === id) || { id, material: "" };
    },
    label(row, column) {
      return column === "material" ? `material: ${this.called(row)}` : `${LABELS[column]} ${this.called(row)}`;
    },
    word(column) {
      return { dilution_percent: "dilution", solvent: "dissolved in" }[column] || column;
    },
    state(row, column) {
      const edit = this.edit(row, column);
      if (!edit) return "stored";
      if (edit.other !== null) return "unsaved";
      if (edit.failed) return "unsaved";
      if (edit.text !== edit.was && edit.turn === null) return "typing";
      return edit.turn !== null ? "waiting" : "stored";
    },
    cell(row, column) {
      return {
        value: this.text(row, column), "aria-label": this.label(row, column), "data-at": `${row.id}/${column}`,
        "aria-invalid": row.wrong && row.wrong.column === column ? "true" : undefined,
      };
    },
    cellActs(row, column) {
      return {
        focus: () => this.focus(row, column),
        blur: () => this.blur(row, column),
        input: (event) => this.typed(row, column, event.target.value),
        change: () => this.commit(row, column),
        keydown: (event) => this.cellKey(event, row, column),
        paste: (event) => this.paste(event, row),
      };
    },
    // typing
    ensure(row, column) {
      const key = row.id + "/" + column;
      if (!this.edits[key]) {
        const was = row[column] || "";
        this.edits[key] = { text: was, was, sent: "", mine: [], turn: null, at: 0, other: null, failed: false };
      }
      return this.edits[key];
    },
    focus(row, column) {
      this.focused = row.id + "/" + column;
      this.ensure(row, column);
    },
    blur(row, column) {
      this.focused = "";
      this.commit(row, column);
      this.settle(row.id + "/" + column);
    },
    typed(row, column, value) {
      this.ensure(row, column).text = value;
      this.remember();
      if (AMOUNTS.includes(column) && row.stored) this.preview(row, column);
    },
    preview(row, column) {
      clearTimeout(this.later);
      this.later = setTimeout(() => {
        const edit = this.edit(row, column);
        const value = edit && edit.text !== edit.was && edit.turn === null ? edit.text : null;
        if (!this.offline) this.$emit("act", { kind: "preview", id: row.id, column, value });
      }, 80);
    },
    commit(row, column, mark = "") {
      const edit = this.edit(row, column);
      if (!edit || edit.other !== null) return;
      if (edit.text !== (edit.turn === null ? edit.was : edit.sent)) this.send(row.id, column, mark);
    },
    send(id, column, mark = "", again = false) {
      const edit = this.edits[id + "/" + column];
      const was = edit.turn === null || again ? edit.was : edit.sent;
      clearTimeout(this.later);
      if (!again) edit.sent = edit.text;
      if (!edit.mine.includes(edit.sent)) edit.mine.push(edit.sent);
      Object.assign(edit, { turn: ++this.turn, at: Date.now(), failed: false });
      const fresh = !this.byId[id];
      this.sent[id] = true;
      if (fresh) this.extend();
      this.remember();
      if (!this.offline) {
        this.$emit("act", { kind: "write", turn: edit.turn, id, column, was, value: edit.sent, fresh, mark });
      }
    },
    settle(key) {
      const edit = this.edits[key];
      if (edit && this.focused !== key && edit.turn === null && edit.text === edit.was && !edit.failed) {
        delete this.edits[key];
      }
      this.remember();
    },
    put_back(row, column, leave = false) {
      const edit = this.edit(row, column);
      if (!edit) return;
      Object.assign(edit, { text: edit.other !== null ? edit.other : edit.was, failed: false, turn: null });
      edit.was = edit.text;
      edit.other = null;
      if (AMOUNTS.includes(column)) this.preview(row, column);
      if (leave) this.go(row.id, column);
      this.remember();
    },
    take(row, column) {
      this.put_back(row, column, true);
    },
    stay(row, column) {
      const edit = this.edit(row, column);
      edit.was = edit.other;
      edit.other = null;
      this.send(row.id, column);
      this.go(row.id, column);
    },
    again(row, column) {
      this.send(row.id, column);
      this.go(row.id, column);
    },
    // what the program answers
    update() {
      const own = this.own !== this.seenOwn;
      this.seenOwn = this.own;
      const at = document.activeElement?.dataset?.at || "";
      this.renumber();
      for (const [key, edit] of Object.entries(this.edits)) this.compare(key, edit, own);
      this.local = this.local.filter((id) => !this.byId[id]);
      this.extend();
      this.remember();
      this.$nextTick(() => {
        if (at && document.activeElement?.dataset?.at !== at && document.activeElement === document.body) {
          this.$el.querySelector(`[data-at="${at}"]`)?.focus();
        }
      });
    },
    compare(key, edit, own) {
      const [id, column] = key.split("/");
      const line = this.byId[id];
      if (!line && !this.local.includes(id)) {
        if (edit.text !== edit.was) {
          this.gone.push(`A line was taken out elsewhere while "${edit.text}" was typed in it.`);
        }
        delete this.edits[key];
        return;
      }
      const stored = line ? line[column] : "";
      if (edit.turn !== null) {
        if (this.answered < edit.turn) return;
        edit.turn = null;
        if (stored === edit.sent) edit.was = stored;
        else if (stored === edit.was) edit.failed = true;
        else if (edit.mine.includes(stored)) {
          edit.was = stored;
          this.send(id, column);
        } else edit.other = stored;
        if (edit.turn === null && edit.other === null) this.settle(key);
        return;
      }
      if (stored === edit.was) {
        edit.other = null;
      } else if (stored === edit.text || (edit.text === edit.was && (own || this.focused !== key))) {
        Object.assign(edit, { text: stored, was: stored, other: null, failed: false });
      } else {
        edit.other = stored;
      }
      this.settle(key);
    },
    renumber() {
      for (const id of this.local) {
        if (!this.byId[id] || this.sent[id]) continue;
        const other = this.next();
        this.keys[other] = this.keys[id];
        delete this.keys[id];
        for (const column of Object.keys(LABELS)) {
          const [from, to] = [`${id}/${column}`, `${other}/${column}`];
          if (!this.edits[from]) continue;
          this.edits[to] = this.edits[from];
          delete this.edits[from];
          if (this.focused === from) this.focused = to;
        }
        this.local = this.local.map((one) => (one === id ? other : one));
      }
    },
    next() {
      return String(1 + Math.max(0, ...[...this.lines.map((line) => line.id), ...this.local].map(Number)));
    },
    extend() {
      const last = this.local[this.local.length - 1];
      if (last === undefined || this.sent[last] || this.byId[last]) {
        const id = this.next();
        delete this.sent[id];
        this.keys[id] = `new ${++this.made}`;
        this.local.push(id);
      }
    },
    keyOf(id) {
      return this.keys[id] || id;
    },
    // the connection
    check() {
      const connected = !!window.socket?.connected;
      if (window.socket && this.offline === connected) this.offline = !connected;
      if (!connected) {
        this.wasOff = true;
        return;
      }
      for (const [key, edit] of Object.entries(this.edits)) {
        if (edit.turn === null) continue;
        this.beats++;
        if (this.wasOff || Date.now() - edit.at > RETRY_MS) this.send(...key.split("/"), "", true);
      }
      this.wasOff = false;
    },
    remember() {
      const half = {}, waiting = {};
      for (const [key, edit] of Object.entries(this.edits)) {
        if (edit.turn !== null || edit.failed) {
          waiting[key] = { text: edit.turn !== null ? edit.sent : edit.text, was: edit.was, mine: edit.mine, at: Date.now() };
        } else if (edit.text !== edit.was) half[key] = { text: edit.text, was: edit.was };
      }
      const put = (store, name, found) =>
        Object.keys(found).length ? store.setItem(name, JSON.stringify(found)) : store.removeItem(name);
      put(sessionStorage, `${STORE}/${this.formula}`, half);
      put(localStorage, `${STORE}/${this.formula}/${TAB}`, waiting);
    },
    restore() {
      const mine = `${STORE}/${this.formula}/${TAB}`;
      const found = [];
      for (const name of Object.keys(localStorage)) {
        if (!name.startsWith(`${STORE}/${this.formula}/`)) continue;
        const entries = Object.entries(JSON.parse(localStorage.getItem(name)));
        const old = entries.filter(([, entry]) => name === mine || Date.now() - entry.at > ORPHAN_MS);
        if (!old.length) continue;
        localStorage.removeItem(name);
        found.push(...old.map(([key, entry]) => [key, entry, name === mine ? "send" : "failed"]));
      }
      const half = JSON.parse(sessionStorage.getItem(`${STORE}/${this.formula}`) || "{}");
      found.push(...Object.entries(half).map(([key, entry]) => [key, entry, "half"]));
      for (const [key, entry, how] of found) {
        const [id, column] = key.split("/");
        const line = this.byId[id];
        const stored = line ? line[column] : "";
        if (stored === entry.text) continue;
        if (!line && !this.local.includes(id)) this.local.unshift(id);
        const edit = this.ensure(this.rowOf(id), column);
        const own = (entry.mine || []).includes(stored); // an earlier value of the same hand
        Object.assign(edit, { text: entry.text, was: own ? stored : entry.was });
        if (!this.keys[id]) this.keys[id] = id;
        if (stored !== edit.was) edit.other = stored;
        else if (how === "send") this.send(id, column);
        else if (how === "failed") edit.failed = true;
      }
      this.extend();
    },
    // acts
    act(kind, more) {
      if (this.offline) return;
      this.$emit("act", { kind, ...more });
    },
    toggle(row) {
      this.open[row.id] = !this.open[row.id];
    },
    move(row, by) {
      const ids = this.lines.map((line) => line.id);
      const to = ids.indexOf(row.id) + by;
      if (to < 0 || to >= ids.length) return;
      ids.splice(ids.indexOf(row.id), 1);
      this.act("move", { id: row.id, before: ids[to] || "" });
    },
    group() {
      this.act("group", { ids: this.picked, name: this.accord });
    },
    choose_none() {
      this.chosen = {};
      this.accord = "";
    },
    paste(event, row) {
      const text = event.clipboardData.getData("text/plain");
      if (!/[\t\n]/.test(text.trim())) return;
      event.preventDefault();
      this.act("paste", { text, after: row.stored ? row.id : "" });
    },
    short_cuts() {
      this.$refs.dialog.showModal();
    },
    // the keyboard
    go(id, column) {
      this.$nextTick(() => {
        const input = this.$el.querySelector(`[data-at="${id}/${column}"]`);
        input?.focus();
        if (AMOUNTS.includes(column)) input?.select();
      });
    },
    go_new() {
      this.go(this.local[this.local.length - 1], "material");
    },
    cellKey(event, row, column) {
      const step = { ArrowUp: -1, ArrowDown: 1, Enter: event.shiftKey ? -1 : 1 }[event.key];
      const plain = !event.altKey && !event.ctrlKey && !event.metaKey && !event.isComposing;
      if (event.key === "Escape") {
        this.put_back(row, column);
      } else if (step && plain && (event.key === "Enter" || column !== "material")) {
        event.preventDefault();
        this.commit(row, column);
        if (event.key === "Enter" && !row.stored && column === "material" && step > 0) {
          this.go(row.id, "parts");
          return;
        }
        const next = this.rows[this.rows.findIndex((one) => one.id === row.id) + step];
        if (next) this.go(next.id, next.stored || column === "parts" && step < 0 ? column : "material");
      }
    },
    rowKey(event, row) {
      if (!row.stored) return;
      const control = event.ctrlKey || event.metaKey;
      const acts = {
        "alt ArrowUp": () => this.move(row, -1),
        "alt ArrowDown": () => this.move(row, 1),
        "control Enter": () => this.toggle(row),
        "control  ": () => (this.chosen[row.id] = !this.chosen[row.id]),
        "control Delete": () => this.act("remove", { ids: [row.id] }),
      };
      const found = acts[`${control ? "control" : event.altKey ? "alt" : "none"} ${event.key}`];
      if (!found) return;
      event.preventDefault();
      found();
    },
    pageKey(event) {
      const here = event.target;
      const field = here.matches?.("input:not([type=checkbox]), textarea, select, [contenteditable]");
      if (event.key === "?" && !field && !event.ctrlKey && !this.$refs.dialog.open) {
        event.preventDefault();
        this.short_cuts();
      }
      const key = event.key.toLowerCase();
      if (!(event.ctrlKey || event.metaKey) || event.altKey || (key !== "z" && key !== "y")) return;
      const edit = this.edits[here.dataset?.at];
      if (field && (!edit || edit.text !== edit.was)) return; // the field has an undo of its own
      event.preventDefault();
      this.act("step", { by: key === "y" || event.shiftKey ? 1 : -1 });
    },
    // the handle
    amount(row) {
      const edit = this.edit(row, "parts");
      const value = edit && edit.text !== edit.was ? Number(edit.text.replace(",", ".")) : row.amount;
      return Number.isFinite(value) && value > 0 ? value : null;
    },
    slides(row) {
      return row.stored && !row.lock && !row.out && this.amount(row) !== null;
    },
    slide(event, row) {
      const start = this.amount(row);
      if (!this.slides(row) || event.button) return;
      event.preventDefault();
      const handle = event.target, from = event.clientX;
      handle.focus();
      handle.setPointerCapture(event.pointerId);
      const move = (now) => this.typed(row, "parts", figure(start * 2 ** ((now.clientX - from) / 90)));
      const end = () => {
        handle.removeEventListener("pointermove", move);
        this.commit(row, "parts");
        this.settle(row.id + "/parts");
      };
      handle.addEventListener("pointermove", move);
      handle.addEventListener("lostpointercapture", end, { once: true });
    },
    slideKey(event, row) {
      const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
      if (!by || event.altKey || !this.slides(row)) return;
      event.preventDefault();
      const value = this.amount(row) * (1 + (event.shiftKey ? 0.1 : 0.02)) ** by;
      let text = figure(value);
      if (Number(text) === this.amount(row)) text = String(Number(value.toPrecision(4)));
      this.typed(row, "parts", text);
      this.commit(row, "parts", "handle");
    },
    // reorder by dragging
    grab(event, row) {
      if (event.button) return;
      const grip = event.target, from = event.clientY;
      this.moved = false;
      grip.setPointerCapture(event.pointerId);
      const move = (now) => {
        if (!this.moved && Math.abs(now.clientY - from) < 5) return;
        this.moved = true;
        this.dragged = row.id;
        const boxes = [...this.$el.querySelectorAll(".line[data-line]")].slice(0, this.lines.length);
        const at = boxes.findIndex((box) => now.clientY < box.getBoundingClientRect().top + box.offsetHeight / 2);
        this.dropAt = at < 0 ? this.lines.length : at;
      };
      const end = () => {
        grip.removeEventListener("pointermove", move);
        if (this.moved && this.dropAt >= 0) {
          this.act("move", { id: row.id, before: this.lines[this.dropAt]?.id || "" });
        }
        this.dragged = "";
        this.dropAt = -1;
      };
      grip.addEventListener("pointermove", move);
      grip.addEventListener("lostpointercapture", end, { once: true });
    },
    clickGrip(row) {
      if (this.moved) this.moved = false;
      else this.chosen[row.id] = !this.chosen[row.id];
    },
  },
};
