/** A solved study as a model: settings in, outcomes out. */

import type { Complex, Head, Model, Outcome, Setting, Way, Wires } from "../contract";
import { Fields } from "./field";
import { changes, directionsThatMatter, extremeGains, gains, meanGain, peakOf } from "./gains";
import { Geometry, type GeometryData } from "./geometry";
import { swrOn, type Line } from "./line";
import { loadingOf, sharesOf, type KindData, type LiveKind, type Loading } from "./loading";
import type { Payload } from "./payload";
import { activePorts, emptyBand, RADIO_OHM, Response, Solver } from "./response";

/** What computes of a study, as `pipeline/live/payload.py` writes it. */
interface EngineData {
  geometries: Readonly<Record<string, GeometryData>>;
  /** Drawing of the cable of each variant, by its name. */
  cables: Readonly<Record<string, string>>;
  kinds: readonly KindData[];
  centre: number;
  z0: number;
  open: number;
  ideal: { ohm: number; position: number };
  soil: readonly [number, number] | null;
  corners: readonly number[];
  route: number;
  scored: readonly { name: string; relative: boolean; limit: number }[];
  line: Line;
}

/** Figures that the ideal choke is held against, with its gain at low angles. */
interface Reference {
  low: Float64Array;
  matters: Uint8Array;
  figures: Readonly<Record<string, number>>;
}

const CABLE = "cable";
const IDEAL = "ideal";
const LOW_DEG = 10;
const NOTHING = new Float64Array(0);
/** So many outcomes are kept of the ideal choke, one for each pair of ends. */
const KEPT = 40;
/** Work without a pause while the page is made ready [ms]. */
const AT_ONCE_MS = 30;

export class SolvedModel implements Model {
  readonly head: Head;
  private readonly data: EngineData;
  private readonly kinds: ReadonlyMap<string, LiveKind>;
  private readonly geometries = new Map<string, Geometry>();
  private readonly fields = new Map<Geometry, Fields>();
  private readonly ideals = new Map<string, { outcome: Outcome; reference: Reference }>();
  private readonly solver: Solver;
  private readonly told: Float64Array;
  private readonly theta: Float64Array;

  constructor(private readonly payload: Payload) {
    this.data = payload.head["engine"] as unknown as EngineData;
    const azimuths = payload.numbers("azimuths");
    const elevations = payload.numbers("elevations");
    this.head = { ...(payload.head as unknown as Head), azimuths, elevations };
    this.told = payload.numbers("told");
    this.theta = payload.numbers("theta");
    this.kinds = new Map(
      this.head.kinds.map(({ id }, k) => {
        return [id, { ...this.data.kinds[k]!, id, z: payload.complex(`kind/${id}`) }];
      }),
    );
    const most = Object.values(this.data.geometries).map((one) => one.ports.length);
    this.solver = new Solver(Math.max(...most));
  }

  /** Fields that most settings share, made a little at a time: the page can be read meanwhile. */
  async prepare(): Promise<void> {
    await this.prepareOf(CABLE);
    // The others are ready before anybody asks for them, and nobody waits for that.
    void (async () => {
      for (const name of Object.values(this.data.cables)) await this.prepareOf(name);
    })();
  }

  private async prepareOf(name: string): Promise<void> {
    const fields = this.fieldsOf(this.geometry(name));
    while (fields.prepare(AT_ONCE_MS)) await new Promise((go) => setTimeout(go));
  }

  wires(variant: string, setting: Setting): Wires {
    const { segments } = this.geometryFor(variant, setting);
    const { start, end, radius, part } = segments;
    return { start: Float32Array.from(start), end: Float32Array.from(end), radius, part };
  }

  way(variant: string, setting: Setting): Way {
    const { path, along, segments } = this.geometryFor(variant, setting);
    const point = new Float32Array(3 * path.length);
    path.forEach((segment, k) => {
      for (let axis = 0; axis < 3; axis++) {
        const at = 3 * segment + axis;
        point[3 * k + axis] = 0.5 * (segments.start[at]! + segments.end[at]!);
      }
    });
    return { position: along, point };
  }

  evaluate(setting: Setting): Outcome {
    const loading = this.loadingOf(setting);
    if (typeof loading === "string") return refusal(loading);
    const { reference } = this.idealFor(setting);
    return this.outcome(loading, setting, reference);
  }

  ideal(setting: Setting): Outcome {
    const loading = this.loadingOf({ ...setting, first: null, second: null });
    if (typeof loading === "string") return refusal(loading);
    const { outcome } = this.idealFor(setting);
    return { ...outcome, at: this.at(outcome, setting) };
  }

  private loadingOf(setting: Setting): Loading | string {
    const { head, kinds, data } = this;
    const geometry = (name: string): Geometry => this.geometry(name);
    const { cables, corners, route, line, open } = data;
    return loadingOf(setting, { head, kinds, geometry, cables, corners, route, line, open });
  }

  private geometryFor(variant: string, setting: Setting): Geometry {
    const kind = setting.first && this.kinds.get(setting.first.kind);
    const isDrawn = kind && kind.geometry !== CABLE;
    return this.geometry(isDrawn ? kind.geometry : this.data.cables[variant]!);
  }

  private geometry(name: string): Geometry {
    let found = this.geometries.get(name);
    if (!found) {
      found = new Geometry(this.data.geometries[name]!, this.payload, name);
      this.geometries.set(name, found);
    }
    return found;
  }

  private fieldsOf(geometry: Geometry): Fields {
    let found = this.fields.get(geometry);
    if (!found) {
      const phi = this.head.azimuths.map((degrees) => (degrees * Math.PI) / 180);
      const { frequency } = this.head;
      found = new Fields(geometry, { theta: this.theta, phi, frequency, soil: this.data.soil });
      this.fields.set(geometry, found);
    }
    return found;
  }

  /** The ideal choke with the ends of a setting, and what others are compared with. */
  private idealFor(setting: Setting): { outcome: Outcome; reference: Reference } {
    const key = JSON.stringify([setting.variant, setting.bond, setting.radio]);
    let found = this.ideals.get(key);
    if (!found) {
      const bare = { ...setting, first: null, second: null, frequency: this.head.frequency };
      const loading = this.withIdeal(this.loadingOf(bare) as Loading);
      const outcome = this.outcome(loading, bare, null);
      const low = this.low(outcome.pattern);
      const matters = directionsThatMatter(low);
      found = { outcome, reference: { low, matters, figures: outcome.figures } };
      if (this.ideals.size === KEPT) this.ideals.clear();
      this.ideals.set(key, found);
    }
    return found;
  }

  private withIdeal(loading: Loading): Loading {
    const { ohm, position } = this.data.ideal;
    const kind: LiveKind = {
      ...{ id: IDEAL, geometry: CABLE, port: "", over: 0, extent: 0, stiff: false, cores: false },
      ...{ told: null, line: this.data.line },
      z: { re: this.told.map(() => ohm), im: this.told.map(() => 0) },
    };
    const share = sharesOf(loading.geometry, kind, 1, position)!;
    return { ...loading, parts: [{ kind, count: 1, position, share, pieces: [share] }] };
  }

  private outcome(loading: Loading, setting: Setting, reference: Reference | null): Outcome {
    const { geometry } = loading;
    const driven = this.solver.drive(loading, activePorts(loading), this.data.centre, true);
    const response = new Response(geometry, driven);
    const { azimuths, elevations } = this.head;
    const pattern = new Float64Array(azimuths.length * elevations.length);
    response.density(this.fieldsOf(geometry), pattern);
    gains(pattern, response.input, pattern);
    const shield = response.shield();
    const wires = response.wires();
    const ring = this.ring(pattern);
    const heat = this.heat(loading, response);
    const figures = this.figures(loading, response, { pattern, ring, shield, reference });
    const over = this.over(figures, reference);
    const [reason, score] = largest(over);
    const band = this.solver.overBand(loading, this.told, this.data.z0);
    const found = { refused: "", figures, over, score, reason, shield, wires, ring, pattern };
    const whole = { ...found, band, at: band, heat };
    return { ...whole, at: this.at(whole, setting) };
  }

  private figures(loading: Loading, response: Response, seen: Patterns): Record<string, number> {
    const { pattern, ring, shield, reference } = seen;
    const z = response.zFeed;
    const end = response.radio(loading, this.head.frequency);
    const low = this.low(pattern);
    const base = reference ?? { low, matters: directionsThatMatter(low) };
    const [largestChange, rms] = changes(low, base.low, base.matters);
    const [least, most] = extremeGains(ring);
    const [peak, row] = peakOf(pattern, this.head.azimuths.length);
    const mean = meanGain(ring);
    const [chokeR, chokeX] = this.chokeImpedance(loading);
    const share = sum(this.heatIn(loading, response)) / response.input;
    const power = this.head.power * 10 ** (-end.loss / 10);
    return {
      r_ohm: Math.max(z[0], 1e-3),
      x_ohm: z[1],
      swr: swrOn(z, this.data.z0),
      swr_radio: swrOn(end.z, RADIO_OHM),
      min_gain_dbi: least,
      mean_gain_dbi: mean,
      max_gain_dbi: most,
      peak_gain_dbi: peak,
      peak_elevation_deg: this.head.elevations[row]!,
      pattern_max_db: largestChange,
      pattern_rms_db: rms,
      shield_ratio: shield.reduce((a, b) => Math.max(a, b), 0),
      station_ratio: response.station(),
      choke_r_ohm: chokeR,
      choke_x_ohm: chokeX,
      choke_share: share,
      choke_power: share * power,
      hottest_power: (this.hottest(loading, response) / response.input) * power,
      line_loss_db: end.loss,
      system_gain_dbi: mean - end.loss,
    };
  }

  /** All of the impedance on the cable as it may be told [ohm]; no number where there is none. */
  private chokeImpedance(loading: Loading): Complex {
    let [re, im] = [0, 0];
    for (const { kind, count, share } of loading.parts) {
      const told = kind.told ?? this.zOf(kind);
      // All of the shares, as ports have them: their segments lie end to end but for rounding.
      const pieces = kind.told ? count : count * share.reduce((all, each) => all + each, 0);
      [re, im] = [re + pieces * told[0], im + pieces * told[1]];
    }
    return re || im ? [re, im] : [NaN, NaN];
  }

  private zOf(kind: LiveKind): Complex {
    return [kind.z.re[this.data.centre]!, kind.z.im[this.data.centre]!];
  }

  /** Power in each part on the cable, for one volt at the feed [W]. */
  private heatIn(loading: Loading, response: Response): number[] {
    return loading.parts.map(({ kind, count, share }) => {
      const [re, im] = this.zOf(kind);
      return response.heat([count * re, count * im], share);
    });
  }

  /** Power in each part on the cable at the study's power [W]. */
  private heat(loading: Loading, response: Response): number[] {
    const { loss } = response.radio(loading, this.head.frequency);
    const factor = (this.head.power * 10 ** (-loss / 10)) / response.input;
    return this.heatIn(loading, response).map((each) => factor * each);
  }

  /** Power in the core, or other part, that takes most, for one volt at the feed [W]. */
  private hottest(loading: Loading, response: Response): number {
    let most = 0;
    for (const { kind, pieces } of loading.parts) {
      for (const share of pieces) most = Math.max(most, response.heat(this.zOf(kind), share));
    }
    return most;
  }

  /** Changes over their thresholds, by the name of the figure. */
  private over(
    figures: Readonly<Record<string, number>>,
    reference: Reference | null,
  ): Record<string, number> {
    const found: Record<string, number> = {};
    for (const { name, relative, limit } of this.data.scored) {
      const from = relative ? (reference?.figures ?? figures)[name]! : 0;
      found[name] = Math.abs(figures[name]! - from) / limit;
    }
    return found;
  }

  /** Gains from the horizon to ten degrees. */
  private low(pattern: Float64Array): Float64Array {
    const count = this.head.azimuths.length;
    const rows: number[] = [];
    this.head.elevations.forEach((elevation, row) => {
      if (elevation >= -1e-9 && elevation <= LOW_DEG + 1e-9) rows.push(row);
    });
    const found = new Float64Array(rows.length * count);
    rows.forEach((row, k) => {
      found.set(pattern.subarray(row * count, (row + 1) * count), k * count);
    });
    return found;
  }

  /** Gains all round at the elevation that stands for the horizon. */
  private ring(pattern: Float64Array): Float64Array {
    const { azimuths, elevations, elevation } = this.head;
    let best = 0;
    elevations.forEach((each, row) => {
      if (Math.abs(each - elevation) < Math.abs(elevations[best]! - elevation)) best = row;
    });
    return pattern.slice(best * azimuths.length, (best + 1) * azimuths.length);
  }

  /** The told frequency nearest to the setting's. */
  private at(outcome: Outcome, setting: Setting): Outcome["at"] {
    let best = 0;
    this.told.forEach((f, k) => {
      const apart = Math.abs(f - setting.frequency);
      if (apart < Math.abs(this.told[best]! - setting.frequency)) best = k;
    });
    const found = emptyBand(1);
    for (const key of Object.keys(found) as (keyof typeof found)[]) {
      found[key][0] = outcome.band[key][best]!;
    }
    return found;
  }
}

interface Patterns {
  pattern: Float64Array;
  ring: Float64Array;
  shield: Float64Array;
  reference: Reference | null;
}

function sum(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0);
}

function largest(over: Readonly<Record<string, number>>): [string, number] {
  return Object.entries(over).reduce((a, b) => (b[1] > a[1] ? b : a));
}

/** No result, and why. */
function refusal(refused: string): Outcome {
  const empty = emptyBand(0);
  return {
    ...{ refused, figures: {}, over: {}, score: NaN, reason: "", heat: [] },
    ...{ shield: NOTHING, wires: NOTHING, ring: NOTHING, pattern: NOTHING },
    ...{ band: empty, at: empty },
  };
}
