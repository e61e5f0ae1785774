//! Levels outdoors from loudspeakers: the field, areas, bass, exposure and neighbours.
