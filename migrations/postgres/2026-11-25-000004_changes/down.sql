DROP TABLE changes_pending;
DROP TABLE chain_head;
DROP TABLE changes;
