import { describe, expect, it } from 'vitest';
import { aligned, along, mirrored, mirroredBearing, moved, spread, withSide } from './arrange';
import type { Box, Point } from './geometry';

const near = (got: readonly Point[], wanted: readonly Point[]) => {
  expect(got).toHaveLength(wanted.length);
  got.forEach((p, i) => {
    expect(p[0]).toBeCloseTo(wanted[i]![0], 4);
    expect(p[1]).toBeCloseTo(wanted[i]![1], 4);
  });
};

describe('moving and mirroring', () => {
  it('moves', () =>
    near(
      moved(
        [
          [1, 2],
          [3, 4],
        ],
        [0.5, -1],
      ),
      [
        [1.5, 1],
        [3.5, 3],
      ],
    ));
  it('mirrors about a line to the north: east and west change places', () =>
    near(
      mirrored(
        [
          [1, 5],
          [4, -2],
        ],
        { at: [3, 0], bearing_deg: 0 },
      ),
      [
        [5, 5],
        [2, -2],
      ],
    ));
  it('mirrors about the diagonal: x and y change places', () =>
    near(mirrored([[4, 1]], { at: [0, 0], bearing_deg: 45 }), [[1, 4]]));
  it('turns what looks somewhere: 30 deg about a line to the north is 330, about one to the east 150', () => {
    expect(mirroredBearing(30, 0)).toBe(330);
    expect(mirroredBearing(30, 90)).toBe(150);
    expect(mirroredBearing(0, 0)).toBe(0);
  });
});

describe('aligning', () => {
  const boxes: Box[] = [
    { min: [0, 0], max: [2, 1] },
    { min: [3, 4], max: [4, 8] },
  ];
  it.each([
    [
      'west',
      [
        [0, 0],
        [-3, 0],
      ],
    ], // both begin at 0
    [
      'east',
      [
        [2, 0],
        [0, 0],
      ],
    ], // both end at 4
    [
      'south',
      [
        [0, 0],
        [0, -4],
      ],
    ], // both begin at 0
    [
      'north',
      [
        [0, 7],
        [0, 0],
      ],
    ], // both end at 8
    [
      'column',
      [
        [1, 0],
        [-1.5, 0],
      ],
    ], // middles 1 and 3.5 come to 2
    [
      'row',
      [
        [0, 3.5],
        [0, -2],
      ],
    ], // middles 0.5 and 6 come to 4
  ] as const)('to the %s', (how, wanted) => near(aligned(boxes, how), wanted as unknown as Point[]));
});

describe('spreading', () => {
  const side: Point[] = [
    [0, 0],
    [12, 0],
  ];
  it('gives each as much of a side: three on 12 m stand at 2, 6 and 10 m', () =>
    near(spread(side, false, 3, false), [
      [2, 0],
      [6, 0],
      [10, 0],
    ]));
  it('from end to end: three on 12 m stand at 0, 6 and 12 m', () =>
    near(spread(side, false, 3, true), [
      [0, 0],
      [6, 0],
      [12, 0],
    ]));
  it('puts one alone in the middle', () => {
    near(spread(side, false, 1, true), [[6, 0]]);
    near(spread(side, false, 1, false), [[6, 0]]);
  });
  it('goes round corners: two on 3 m east and 5 m north stand at 2 and 6 m of 8', () =>
    near(
      spread(
        [
          [0, 0],
          [3, 0],
          [3, 5],
        ],
        false,
        2,
        false,
      ),
      [
        [2, 0],
        [3, 3],
      ],
    ));
  it('around an outline: four round a square of 4 m stand at its corners', () => {
    const square: Point[] = [
      [0, 0],
      [4, 0],
      [4, 4],
      [0, 4],
    ];
    near(spread(square, true, 4, false), square);
  });
  it('never leaves the way', () => near([along(side, 99)], [[12, 0]]));
});

describe('a side given a length', () => {
  const house: Point[] = [
    [0, 0],
    [8, 0],
    [8, 5],
    [0, 5],
  ];
  it('keeps the right angles of a rectangle', () => {
    near(withSide(house, true, 0, 10), [
      [0, 0],
      [10, 0],
      [10, 5],
      [0, 5],
    ]);
    // The last side runs south from (0, 5): 2 m of it end at (0, 3), and the south side comes along.
    near(withSide(house, true, 3, 2), [
      [0, 3],
      [8, 3],
      [8, 5],
      [0, 5],
    ]);
  });
  it('of an L moves the next side along', () =>
    near(
      withSide(
        [
          [0, 0],
          [6, 0],
          [6, 3],
          [3, 3],
          [3, 6],
          [0, 6],
        ],
        true,
        0,
        7,
      ),
      [
        [0, 0],
        [7, 0],
        [7, 3],
        [3, 3],
        [3, 6],
        [0, 6],
      ],
    ));
  it('of a triangle moves one corner', () =>
    near(
      withSide(
        [
          [0, 0],
          [3, 0],
          [0, 4],
        ],
        true,
        0,
        6,
      ),
      [
        [0, 0],
        [6, 0],
        [0, 4],
      ],
    ));
  it('of a wall pushes the rest of it', () =>
    near(
      withSide(
        [
          [0, 0],
          [4, 0],
          [4, 3],
          [9, 3],
        ],
        false,
        1,
        5,
      ),
      [
        [0, 0],
        [4, 0],
        [4, 5],
        [9, 5],
      ],
    ));
});
