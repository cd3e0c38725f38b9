ALTER TABLE works ADD COLUMN part TEXT /* 'whole' or x0,y0,x1,y1 in px of the file, as the record says; else trimmed */;
