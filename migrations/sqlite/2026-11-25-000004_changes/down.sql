DROP TABLE chain_head;
DROP TABLE changes;
