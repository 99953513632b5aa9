DROP TABLE handovers;
