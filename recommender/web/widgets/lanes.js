// One lane for each smell, dark where it is clear, pale where it is faint, and a cursor for the hour.
const LEGEND = [
  ["clear", "thick: clear"], ["faint", "thin: faint"], ["fading", "fading: the end is not surer than this"],
  ["about", "green: what the formula is about"],
];

export default {
  template: `
    <div class="lanes">
      <p class="lane-now"><strong>At {{ now.hour }}:</strong> {{ now.smelled }}<span v-if="now.speaking">. From: {{ now.speaking }}</span>.</p>
      <p class="lane-legend"><span v-for="[sign, text] in LEGEND" :key="sign" class="lane-key"><i :class="sign" aria-hidden="true"></i>{{ text }}</span></p>
      <div class="lane-time">
        <div class="lane-axis" aria-hidden="true">
          <span v-for="tick in ticks" :key="tick.text" :style="{left: 100 * tick.at + '%'}">{{ tick.text }}</span>
        </div>
        <input class="lane-hour" type="range" min="0" :max="Math.max(moments.length - 1, 0)" step="1" v-model.number="at"
          ref="hour" aria-label="hour of the time cursor" :aria-valuetext="'at ' + now.hour + ': ' + now.smelled">
      </div>
      <ul class="lane-list">
        <li v-for="lane in lanes" :key="lane.key || lane.facet" class="lane"
            :class="{theme: lane.theme, asked: lane.asked, early: lane.gap, pinned: lane.pinned, second: lane.second}">
          <div class="lane-name">
            <template v-if="plain">
              <strong v-if="!lane.second" class="lane-ask">{{ lane.facet }}</strong>
              <span class="lane-tag lane-of">{{ lane.of }}</span>
            </template>
            <template v-else>
              <button type="button" class="lane-pin" :aria-pressed="lane.pinned ? 'true' : 'false'"
                :aria-label="'Pin ' + lane.facet" :title="lane.pinned ? 'Pinned: always drawn' : 'Pin: always draw it'"
                @click="$emit('pin', lane.facet)"><svg viewBox="0 0 12 12" aria-hidden="true"><path d="M3.8 1h4.4l-.7 3.2 1.7 2.3H2.8l1.7-2.3zM6 6.5V11"/></svg></button>
              <button type="button" class="lane-ask" :aria-label="lane.ask" :title="lane.ask"
                @click="$emit('ask', lane.facet)">{{ lane.facet }}</button>
              <span v-if="lane.theme" class="lane-tag">theme</span>
              <span v-if="lane.gap" class="lane-tag gap-tag">ends early</span>
            </template>
          </div>
          <div v-if="ghostOf(lane)" class="lane-ends then" :title="'now ' + lane.ends">{{ ghostOf(lane).less ? "↓" : "↑" }} with it {{ ghostOf(lane).ends }}</div>
          <div v-else class="lane-ends">{{ lane.ends }}</div>
          <svg class="lane-plot" role="img" :aria-label="lane.text" viewBox="0 0 1000 24" preserveAspectRatio="none"
              @pointermove="drag" @pointerdown="point">
            <defs>
              <linearGradient v-for="part in parts(lane)" :id="part.id" :key="part.id" :class="part.name">
                <stop v-for="(stop, n) in part.stops" :key="n" :offset="stop[0]" :stop-opacity="stop[1]"/>
              </linearGradient>
            </defs>
            <line class="lane-base" x1="0" x2="1000" y1="12" y2="12"/>
            <template v-if="ghostOf(lane)">
              <rect x="0" y="0" width="1000" height="24" :fill="fill(lane, 'ghost')"/>
              <path class="ghost-edge" :d="edge(ghostOf(lane))"/>
            </template>
            <rect x="0" y="8" width="1000" height="8" :fill="fill(lane, 'there')"/>
            <rect x="0" y="3" width="1000" height="18" :fill="fill(lane, 'clear')"/>
            <line class="lane-halo" :x1="x" :x2="x" y1="-4" y2="28"/>
            <line class="lane-cursor" :x1="x" :x2="x" y1="-4" y2="28"/>
          </svg>
          <div v-if="lane.dots && lane.dots.length" class="lane-dots" aria-hidden="true">
            <span v-for="(dot, n) in lane.dots" :key="n" :style="{left: 100 * dot.at + '%'}" :title="dot.text">{{ dot.sign }}</span>
          </div>
        </li>
      </ul>
    </div>
  `,
  props: { lanes: Array, moments: Array, ticks: Array, ghost: Object, plain: Boolean },
  emits: ["ask", "pin"],
  data() {
    return { at: 26, LEGEND };
  },
  updated() {
    this.$refs.hour.value = this.at; // the browser has cut it to the range before the hours arrived
  },
  computed: {
    now() {
      const last = this.moments.length - 1;
      return this.moments[Math.min(this.at, last)] || { at: 0, hour: "", smelled: "", speaking: "" };
    },
    x() {
      return 1000 * this.now.at;
    },
  },
  methods: {
    ghostOf(lane) {
      return this.ghost && this.ghost.lanes[lane.facet];
    },
    key(lane, name) {
      return `${this.$.uid}-${name}-${(lane.key || lane.facet).replace(/[^a-z0-9]/gi, "-")}`;
    },
    fill(lane, name) {
      return `url(#${this.key(lane, name)})`;
    },
    parts(lane) {
      const found = { there: lane.there, clear: lane.clear };
      if (this.ghostOf(lane)) found.ghost = this.ghostOf(lane).clear;
      return Object.entries(found).map(([name, stops]) => ({
        name, id: this.key(lane, name), stops: stops.length ? stops : [[0, 0]],
      }));
    },
    edge(ghost) {
      if (!ghost.there.length) return "";
      const from = 1000 * ghost.there[0][0];
      return `M${from} 1H${1000 * ghost.gone}V23H${from}Z`;
    },
    drag(event) {
      if (event.buttons) this.point(event);
    },
    point(event) {
      const box = event.currentTarget.getBoundingClientRect();
      const share = (event.clientX - box.left) / box.width;
      let best = 0;
      this.moments.forEach((moment, n) => {
        if (Math.abs(moment.at - share) < Math.abs(this.moments[best].at - share)) best = n;
      });
      this.at = best;
    },
  },
};
