import { describe, expect, it } from 'vitest';
import { fromGeoJson, NotGeoJson, toGeoJson } from './geojson';

const SITE = {
  site: {
    outline: [
      [0, 0],
      [38, 0],
      [38, 26],
      [0, 26],
    ],
  },
  areas: {
    lawn: {
      name: 'Lawn',
      outline: [
        [9, 4.5],
        [23, 4.5],
        [23, 12.2],
      ],
      target: 70,
      listeners: 'standing',
    },
  },
  walls: {
    west: {
      line: [
        [0, 0],
        [0, 26],
      ],
      height: 1.8,
      kind: 'masonry',
    },
  },
  marks: { M1: { name: 'Corner', position: [4, 14.5] } },
};

describe('GeoJSON', () => {
  it('comes back as it went out', () => {
    const { patch, left } = fromGeoJson(toGeoJson(SITE as never), {});
    expect(left).toEqual([]);
    const added = Object.fromEntries(patch.map((o) => [o.path, o.value]));
    expect(added['/areas/lawn']).toEqual({
      name: 'Lawn',
      target: 70,
      listeners: 'standing',
      outline: SITE.areas.lawn.outline,
    });
    expect(added['/walls/west']).toMatchObject({
      line: [
        [0, 0],
        [0, 26],
      ],
      height: 1.8,
    });
    expect(added['/marks/M1']).toMatchObject({ position: [4, 14.5] });
  });
  it('lays degrees flat: a thousandth of a degree at 60 north', () => {
    const file = {
      type: 'FeatureCollection',
      features: [
        {
          type: 'Feature',
          properties: {},
          geometry: {
            type: 'LineString',
            coordinates: [
              [10, 60],
              [10.001, 60],
              [10.001, 60.001],
            ],
          },
        },
      ],
    };
    const { patch } = fromGeoJson(JSON.stringify(file), {});
    const line = (patch.at(-1)!.value as { line: number[][] }).line;
    // WGS 84 at 60 degrees: 55.80 km per degree of longitude, 111.41 km per degree of latitude; a sphere is within 0.4 %.
    expect(Math.abs(line[1]![0]! - 55.8) / 55.8).toBeLessThan(0.004);
    expect(Math.abs(line[2]![1]! - 111.41) / 111.41).toBeLessThan(0.004);
  });
  it('tells every value that nobody said', () => {
    const feature = (properties: object, type: string, coordinates: unknown) => ({
      type: 'Feature',
      properties,
      geometry: { type, coordinates },
    });
    const along = [[10, 60], [10.001, 60]]; // prettier-ignore
    const ring = [[10, 60], [10.001, 60], [10.001, 60.001], [10, 60]]; // prettier-ignore
    const features = [
      feature({ table: 'neighbours', name: 'Mill house' }, 'LineString', along),
      feature({ table: 'neighbours', name: 'Barn' }, 'MultiPoint', along),
      feature({ table: 'neighbours', day: '45 dBA' }, 'LineString', along),
      feature({ table: 'buildings', height: '7 m' }, 'Polygon', [ring]),
      feature({}, 'Polygon', [ring]),
      feature({ table: 'sleeves' }, 'LineString', along),
      feature({ name: 'Post' }, 'Point', [10, 60]),
    ];
    const { assumed, added } = fromGeoJson(JSON.stringify({ type: 'FeatureCollection', features }), {});
    expect(added).toBe(7);
    expect(assumed).toEqual([
      'limit by day 50 dBA at 2 neighbours',
      'kind lawn at 1 surface',
      'inside diameter 50 mm at 1 sleeve',
    ]);
    expect(fromGeoJson(toGeoJson(SITE as never), {}).assumed).toEqual([]);
  });
  it('says what it cannot take', () => {
    expect(() => fromGeoJson('{', {})).toThrow(NotGeoJson);
    expect(() => fromGeoJson('{"type":"Feature"}', {})).toThrow('not a GeoJSON FeatureCollection');
    const odd = {
      type: 'FeatureCollection',
      features: [{ type: 'Feature', properties: {}, geometry: null }],
    };
    expect(fromGeoJson(JSON.stringify(odd), {}).left).toEqual(['feature 1: it has no geometry']);
  });
  it('never overwrites a thing with the same id', () => {
    const { patch } = fromGeoJson(toGeoJson(SITE as never), { walls: { west: {} }, areas: {}, marks: {} });
    expect(patch.some((o) => o.path === '/walls/west')).toBe(false);
    expect(patch.some((o) => o.path === '/walls/west1')).toBe(true);
  });
});
