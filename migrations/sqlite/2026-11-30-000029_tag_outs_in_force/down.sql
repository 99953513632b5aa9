DROP INDEX tag_outs_in_force;
